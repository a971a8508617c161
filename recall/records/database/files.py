"""Opening a database file by hand, encrypted or not: what is no file of plain SQLite needs a key.

Encryption is SQLCipher's (AES-256 of each page, with a code that shows any change; "SQLCipher
Design"). Its library is an extra: who does not encrypt does not need it.
"""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from types import ModuleType
from typing import Any

from recall.errors import StorageError
from recall.records.database import keys
from recall.records.database.key_places import EXTRA

PLAIN = b"SQLite format 3\0"
"""How every database file begins that is not encrypted (SQLite: "Database File Format", 1.3)."""


def keep_others_out(path: Path) -> None:
    """Take from a register's file, and what lies beside it, what everybody else may do with it.

    A group that shares it goes on sharing it. Nothing where that is for somebody else to change.
    """
    for part in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm"))):
        with suppress(OSError):
            part.chmod(stat.S_IMODE(part.stat().st_mode) & ~stat.S_IRWXO)


def is_plain(path: Path) -> bool:
    """Return whether a database file is there and not encrypted."""
    try:
        with path.open("rb") as file:
            return file.read(len(PLAIN)) == PLAIN
    except OSError:
        return False


def needs_key(path: Path) -> bool:
    """Return whether a file is, or will be when it is made, encrypted."""
    return keys.is_set() and not is_plain(path)


def in_force() -> bool:
    """Return whether the register of this run is encrypted, or is to be made so."""
    return needs_key(keys.database())


def driver_for(path: Path) -> ModuleType:
    """Return the library that opens a file.

    Raises:
        StorageError: it is encrypted, and the library for that is not installed.
    """
    return cipher() if needs_key(path) else sqlite3


def cipher() -> ModuleType:
    """Return the library that opens encrypted files.

    Raises:
        StorageError: it is not installed.
    """
    try:
        from sqlcipher3 import dbapi2
    except ImportError:
        raise StorageError(
            "What opens an encrypted register is not installed.", hint=EXTRA
        ) from None
    found: ModuleType = dbapi2
    return found


def connect(path: Path, mode: str = "rw", **how: Any) -> sqlite3.Connection:
    """Return a connection to a file, with its key where it needs one.

    One that is not there yet is made for its owner alone; what SQLite makes beside it (the newest
    rows) gets its rights from it.

    Raises:
        StorageError: there is no key, or it is not this file's.
        Exception: what the library of the file says of it.
    """
    address = f"{path.absolute().as_uri()}?mode={mode}"
    if not needs_key(path):
        _begin(path, mode)
        plain: sqlite3.Connection = sqlite3.connect(address, uri=True, **how)
        return plain
    driver = cipher()
    for code in keys.codes():
        _begin(path, mode)
        connection: sqlite3.Connection = driver.connect(address, uri=True, **how)
        if opens(connection, code):
            return connection
        connection.close()
    raise StorageError(
        f"The key does not open {path}, or the file is damaged.",
        hint="Nothing was changed; take the right one from paper: recall encryption enter.",
    )


def _begin(path: Path, mode: str) -> None:
    """Make a new file for its owner alone, once it is known that it can be opened."""
    if mode == "rwc":
        with suppress(OSError):  # there already, or what is wrong is told as it is opened
            os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))


def opens(connection: sqlite3.Connection, code: str) -> bool:
    """Try a key, or none on a plain file, on a connection that was just made."""
    if code:
        connection.execute("PRAGMA cipher_log_level = NONE")  # what goes wrong is said by us
        connection.execute(f"PRAGMA key = {pragma(code)}")
    try:
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except cipher().DatabaseError as error:
        if getattr(error, "sqlite_errorname", "") == "SQLITE_NOTADB":
            return False
        raise
    return True


def pragma(code: str) -> str:
    """Return a key as SQLCipher reads one that needs no more stretching."""
    return f"\"x'{keys.raw(code).hex()}'\""


@contextmanager
def in_plain_words(driver: ModuleType) -> Iterator[None]:
    """Say what goes wrong as plain SQLite says it, whichever library was asked."""
    try:
        yield
    except driver.Error as error:
        if isinstance(error, sqlite3.Error):
            raise
        said: sqlite3.Error = getattr(sqlite3, type(error).__name__)(*error.args)
        raise said from error


@contextmanager
def opened(path: Path, mode: str = "rw", **how: Any) -> Iterator[sqlite3.Connection]:
    """Give a connection and close it.

    Raises:
        StorageError: there is no key, or it is not this file's.
        sqlite3.Error: it cannot be read or written.
    """
    with in_plain_words(driver_for(path)), closing(connect(path, mode, **how)) as connection:
        yield connection


def files_of(path: Path) -> tuple[Path, ...]:
    """Return a database file and what may lie beside it while it is in use."""
    return (path, *(Path(f"{path}{ending}") for ending in ("-wal", "-shm", "-journal")))
