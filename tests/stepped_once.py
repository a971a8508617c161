"""What the migrations make of an empty file: made by them once, written again for other tests."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import Connection, update

from recall.records import tables
from recall.records.database import upgrade, where
from recall.records.database.store import revision

MADE = "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%'"
TABLES = "SELECT name FROM sqlite_schema WHERE type = 'table'"


def statements(connection: Connection) -> list[str]:
    """Return what makes a database like this one anew, table by table, with its rows."""
    made = connection.exec_driver_sql(f"{MADE} ORDER BY rowid").scalars().all()
    found = [str(sql) for sql in made]
    for table in connection.exec_driver_sql(TABLES).scalars().all():
        for row in connection.exec_driver_sql(f'SELECT * FROM "{table}"').all():
            values = ", ".join("NULL" if each is None else repr(each) for each in row)
            found.append(f'INSERT INTO "{table}" VALUES ({values})')
    return found


Step = Callable[[Connection, str], None]


def by_statements(step: Step) -> Step:
    """Return a step that takes an empty file by what the first such step came to."""
    known: list[str] = []

    def again(connection: Connection, to: str) -> None:
        empty = to == where.HEAD and revision(connection) is None
        if not empty or connection.dialect.name != "sqlite" or not known:
            step(connection, to)
            if empty and connection.dialect.name == "sqlite":
                known.extend(statements(connection))
            return
        for sql in known:
            connection.exec_driver_sql(sql)
        connection.execute(update(tables.Register).values(mark=secrets.token_hex(8)))

    return again


@contextmanager
def stepped_once() -> Iterator[None]:
    """Let only the first empty file go through the migrations."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(upgrade, "step", by_statements(upgrade.step))
        yield
