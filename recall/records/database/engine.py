"""The place that makes engines: pragmas, BEGIN, and what goes wrong with a file.

That of a register on a server is made beside it, in `on_server`, which is loaded for one alone.

Promise: a write transaction takes the write lock at its start, so nothing that it read can
have changed when it commits. (SQLite: "Transactions", section 2.2; SQLAlchemy's SQLite
dialect: "Transactions with SQLite and the sqlite3 driver".)
"""

from __future__ import annotations

import sqlite3
from functools import partial
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool, Pool, QueuePool

from recall.errors import StorageError
from recall.records.database import servers
from recall.records.database.files import connect, driver_for
from recall.records.database.where import BACKUP_COMMAND, UPGRADE_COMMAND

BUSY_MS = 5000
"""How long a write waits for another; short, since a desk waits with it."""
_UPGRADE_WAITS = 12
"""How many times as long an upgrade waits: for another, which rebuilds tables of years."""

DESK_PRAGMAS = ("foreign_keys=ON", "synchronous=NORMAL")
_ERRORS: tuple[tuple[str, str, str], ...] = (
    (
        "SQLITE_BUSY",
        "The database is locked by another desk or job.",
        "Nothing was changed; try again in a moment.",
    ),
    (
        "SQLITE_LOCKED",
        "The database is locked by another desk or job.",
        "Nothing was changed; try again in a moment.",
    ),
    (
        "SQLITE_READONLY",
        "The database file may not be written.",
        "Check who may write to the file and its folder, and that the disk is not read-only.",
    ),
    (
        "SQLITE_CANTOPEN",
        "The database file cannot be opened.",
        "Check the path in the configuration and who may read and write that folder.",
    ),
    (
        "SQLITE_NOTADB",
        "The file is not a database of this program, or it is encrypted.",
        "Check the path in the configuration, and under [encryption] where its key is.",
    ),
    (
        "SQLITE_CORRUPT",
        "The database file is damaged.",
        f"Stop all desks, keep the file aside, and restore the last good backup ({BACKUP_COMMAND} "
        "--help).",
    ),
    (
        "SQLITE_FULL",
        "The disk is full.",
        "Nothing was changed; free some space and try again.",
    ),
    (
        "SQLITE_IOERR",
        "The disk could not be read or written.",
        "Nothing was changed; check the disk, then try again.",
    ),
)


def storage_error(error: DBAPIError) -> StorageError | None:
    """Return the error in words for whoever runs the machine, or None for a mistake in code."""
    if hasattr(error.orig, "sqlstate"):
        from recall.records.database import server_errors

        return server_errors.storage_error(error)
    name = getattr(error.orig, "sqlite_errorname", "") or ""
    for start, message, hint in _ERRORS:
        if name.startswith(start):
            return StorageError(message, hint=hint)
    if "no such table" in str(error.orig) or "no such column" in str(error.orig):
        return StorageError(
            "The database does not have the tables that this program needs.",
            hint=f"Run `{UPGRADE_COMMAND}`; it makes a backup first.",
        )
    return None


def _opener(path: Path, must_exist: bool, busy_ms: int) -> Any:
    """Return a function that opens the file; SQLite by itself would make a missing one."""
    mode = "rw" if must_exist else "rwc"
    return partial(connect, path, mode, check_same_thread=False, timeout=busy_ms / 1000)


def _make(
    path: Path, pool: type[Pool], pragmas: tuple[str, ...], must_exist: bool, busy_ms: int
) -> Engine:
    # Values stay out of messages and logs: they name people.
    engine = create_engine(
        "sqlite://",
        module=driver_for(path),
        creator=_opener(path, must_exist, busy_ms),
        poolclass=pool,
        hide_parameters=True,
    )

    @event.listens_for(engine, "connect")
    def on_connect(dbapi: sqlite3.Connection, _record: object) -> None:
        dbapi.isolation_level = None  # the driver must not BEGIN by itself
        # busy_timeout first: setting WAL takes a lock
        for pragma in (f"busy_timeout={busy_ms}", "journal_mode=WAL", *pragmas):
            dbapi.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def on_begin(connection: Connection) -> None:
        write = connection.get_execution_options().get("write")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")

    return engine


def desk_engine(path: Path) -> Engine:
    """Return the engine that desks, commands and jobs share; a file must exist."""
    if address := servers.address_of(path):
        from recall.records.database import on_server

        return on_server.desk_engine(address, BUSY_MS)
    return _make(path, QueuePool, DESK_PRAGMAS, must_exist=True, busy_ms=BUSY_MS)


def migration_engine(path: Path) -> Engine:
    """Return the engine of the migrations: no pool, foreign keys off.

    Rebuilding a table with foreign keys on would empty the tables that point to it, and
    switching them off inside a transaction does nothing (SQLite: "PRAGMA foreign_keys").
    """
    longer = BUSY_MS * _UPGRADE_WAITS
    if address := servers.address_of(path):
        from recall.records.database import on_server

        return on_server.migration_engine(address, longer)
    pragmas = ("foreign_keys=OFF", "synchronous=FULL")
    return _make(path, NullPool, pragmas, must_exist=False, busy_ms=longer)


def writing(engine: Engine) -> Engine:
    """Return the view of an engine whose transactions take the write lock as they begin."""
    if engine.dialect.name == "sqlite":
        return engine.execution_options(write=True)
    return engine.execution_options(write=True, isolation_level="READ COMMITTED")


def changes_seen(connection: Connection) -> int:
    """Return a number that is another one as soon as another connection has committed.

    SQLite counts it for each connection ("PRAGMA data_version"). A server tells which transactions
    run and which is to be the next one ("Transaction ID and Snapshot Information Functions").
    """
    if connection.dialect.name == "sqlite":
        found: int = connection.exec_driver_sql("PRAGMA data_version").scalar_one()
        return found
    return hash(connection.exec_driver_sql("SELECT txid_current_snapshot()::text").scalar_one())


def number_on(connection: Connection) -> None:
    """Let each table's next row have the number after its last one; a file does by itself.

    The connection holds the write lock.
    """
    if connection.dialect.name != "sqlite":
        from recall.records.database import on_server

        on_server.number_on(connection)


def refuse_unfit(connection: Connection) -> None:
    """Refuse a server's database in which the same question could have another answer.

    Raises:
        StorageError: an old server, another encoding, or texts in another order.
    """
    if connection.dialect.name != "sqlite":
        from recall.records.database import on_server

        on_server.refuse_unfit(connection)


def refuse_broken_links(connection: Connection) -> None:
    """Refuse rows that point to nothing; a server never lets go of its foreign keys.

    Raises:
        StorageError: there are some.
    """
    if connection.dialect.name != "sqlite":
        return
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchmany(5)
    if broken:
        places = ", ".join(f"{row[0]} {row[1]}" for row in broken)
        raise StorageError(
            f"After the upgrade some rows would point to nothing ({places}).",
            hint="Nothing was changed. Keep the backup and report this.",
        )
