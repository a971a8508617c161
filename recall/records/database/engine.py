"""The only place that makes an engine: pragmas, BEGIN, and what goes wrong with a file.

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
    """Return the engine that desks, commands and jobs share; the file must exist."""
    return _make(path, QueuePool, DESK_PRAGMAS, must_exist=True, busy_ms=BUSY_MS)


def migration_engine(path: Path) -> Engine:
    """Return the engine of the migrations: no pool, foreign keys off.

    Rebuilding a table with foreign keys on would empty the tables that point to it, and
    switching them off inside a transaction does nothing (SQLite: "PRAGMA foreign_keys").
    """
    return _make(
        path,
        NullPool,
        ("foreign_keys=OFF", "synchronous=FULL"),
        must_exist=False,
        busy_ms=BUSY_MS * _UPGRADE_WAITS,
    )
