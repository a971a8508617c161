"""Copying a register from one database to another: every row, in pages, in one transaction.

Either may be a file or on a server. What is copied is one state of the register, and nothing of it
is seen by others until all of it is there. The target makes its tables by the migrations, as any
register does.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine, MetaData, Table, func, inspect, select, text

from recall.records.database import servers, where
from recall.records.database.engine import (
    desk_engine,
    migration_engine,
    number_on,
    refuse_broken_links,
    refuse_unfit,
    writing,
)
from recall.records.database.files import files_of
from recall.records.database.stepping import step
from recall.records.database.store import in_words, revision
from recall.records.tables.base import Base

_PAGE = 2000
"""Rows at once."""


def copy(source: Engine, target: Path) -> dict[str, int]:
    """Copy all rows into a database, in the place of what it holds; return how many, by table.

    Raises:
        StorageError: the target is locked, full or cannot be reached: nothing is in it then.
    """
    engine = migration_engine(target)
    try:
        with in_words(), source.connect() as there, writing(engine).begin() as here:
            refuse_unfit(here)
            step(here, revision(there) or where.HEAD)
            tables, places = _tables(there), {table.name: table for table in _tables(here)}
            _empty(here, tables)
            with _links_looked_at_last(here, tables):
                rows = {
                    table.name: _copy(there, here, (table, places[table.name])) for table in tables
                }
            refuse_broken_links(here)
            number_on(here)
    finally:
        engine.dispose()
    return rows


def copied_from(source: Path, target: Path) -> dict[str, int]:
    """Copy a register, wherever it is, into another database; return how many rows, by table."""
    engine = desk_engine(source)
    try:
        return copy(engine, target)
    finally:
        engine.dispose()


def counts(engine: Engine) -> dict[str, int]:
    """Return the rows of every table of the register."""
    with in_words(), engine.connect() as connection:
        return {
            table.name: connection.scalar(select(func.count()).select_from(table)) or 0
            for table in Base.metadata.sorted_tables
        }


def take_away(target: Path) -> None:
    """Take away what there is of a copy that turned out to be none."""
    if not servers.address_of(target):
        for path in files_of(target):
            path.unlink(missing_ok=True)
        return
    engine = migration_engine(target)
    try:
        with in_words(), writing(engine).begin() as connection:
            if inspect(connection).has_table("alembic_version"):
                step(connection, "base")
                connection.execute(text("DROP TABLE alembic_version"))
    finally:
        engine.dispose()


def _tables(connection: Connection) -> list[Table]:
    """Return the tables of a register of any version, those that are pointed to first."""
    found = MetaData()
    found.reflect(connection)
    return [table for table in found.sorted_tables if table.name != "alembic_version"]


def _empty(connection: Connection, tables: Sequence[Table]) -> None:
    """Take out what is there: of a new register what the migrations put in themselves."""
    if connection.dialect.name != "sqlite":
        names = ", ".join(table.name for table in tables)
        connection.execute(text(f"TRUNCATE {names}"))
        return
    for table in tables:
        connection.execute(table.delete())


def _copy(there: Connection, here: Connection, tables: tuple[Table, Table]) -> int:
    """Copy the rows of one table into the other's."""
    (table, place), count = tables, 0
    wanted = select(table).order_by(*table.primary_key.columns)
    found = there.execution_options(yield_per=_PAGE).execute(wanted)
    for page in found.mappings().partitions():
        here.execute(place.insert(), [dict(row) for row in page])
        count += len(page)
    return count


@contextmanager
def _links_looked_at_last(connection: Connection, tables: Sequence[Table]) -> Iterator[None]:
    """Let rows come in any order: a row may point to one of its own table that comes later.

    A file's links are off while it is migrated. A server's wait for the end (PostgreSQL: "ALTER
    TABLE", ALTER CONSTRAINT; "SET CONSTRAINTS").
    """
    if connection.dialect.name == "sqlite":
        yield
        return
    links = [
        (table.name, key["name"])
        for table in tables
        for key in inspect(connection).get_foreign_keys(table.name)
    ]
    for table, key in links:
        order = f"ALTER TABLE {table} ALTER CONSTRAINT {key} DEFERRABLE INITIALLY DEFERRED"
        connection.execute(text(order))
    yield
    connection.execute(text("SET CONSTRAINTS ALL IMMEDIATE"))
    for table, key in links:
        connection.execute(text(f"ALTER TABLE {table} ALTER CONSTRAINT {key} NOT DEFERRABLE"))
