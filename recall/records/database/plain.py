"""Asking the register in SQL as it is written, through an open session or by the file alone.

Whoever opens the desk sees the first counts before the library that makes SQL is loaded. What is
asked that early is text, and the same text is asked later on: there is one truth about it.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from recall.records.database import servers, where
from recall.records.database.files import opened

if TYPE_CHECKING:
    from sqlalchemy import Connection, Executable
    from sqlalchemy.orm import Session

Ask = Callable[[str, Mapping[str, object]], Sequence[Any]]
"""Gives the rows, for SQL and the values of its names; days and instants as they are kept."""
IS_OPEN = "is_open = 1"
"""How what is open is asked for in plain SQL, so that the planner sees it in the index."""
_NAME = re.compile(r"(?<!:):(\w+)")
_WAITS = 5.0
"""Seconds that a look waits for who writes."""


def by_session(session: Session) -> Ask:
    """Return what asks through a session, in its transaction."""

    connection = session.connection()
    if connection.dialect.name != "sqlite":
        return _of_server(connection)

    def ask(sql: str, values: Mapping[str, object]) -> Sequence[Any]:
        return connection.exec_driver_sql(sql, dict(values)).all()

    return ask


def _of_server(connection: Connection) -> Ask:
    """Return what asks a server: names and truth in its words, days and instants as texts."""

    def ask(sql: str, values: Mapping[str, object]) -> Sequence[Any]:
        said = _NAME.sub(r"%(\1)s", sql.replace(IS_OPEN, "is_open"))
        return _in_texts(connection.exec_driver_sql(said, dict(values)).all())

    return ask


def as_kept(
    connection: Connection, wanted: Executable, values: Mapping[str, object]
) -> Sequence[Any]:
    """Return the driver's own rows, with days and instants as a file keeps them: as texts."""
    result = connection.execute(wanted, dict(values))
    rows = result.cursor.fetchall() if result.cursor else []
    return rows if connection.dialect.name == "sqlite" else _in_texts(rows)


def _in_texts(rows: Iterable[Any]) -> Sequence[Any]:
    return [tuple(str(v) if isinstance(v, date) else v for v in row) for row in rows]


@contextmanager
def by_file(path: Path) -> Iterator[Ask | None]:
    """Give what asks one state of a register; None for one that is not of this very version.

    None for one on a server as well: nothing is quicker there than opening it. Why it is not
    is for the opening of the register to say.

    Raises:
        StorageError: there is no key, or it is not this file's.
        sqlite3.Error: it cannot be read.
    """
    if servers.address_of(path):
        yield None
        return
    with opened(path, "ro", timeout=_WAITS, isolation_level=None) as connection:
        connection.execute("BEGIN")
        there = connection.execute("SELECT version_num FROM alembic_version").fetchone()
        fits = there is not None and there[0] == where.HEAD
        yield _by_connection(connection) if fits else None


def _by_connection(connection: sqlite3.Connection) -> Ask:
    return lambda sql, values: connection.execute(sql, dict(values)).fetchall()
