"""Writing a database file anew under another key: whole and compared, or not at all."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from recall.errors import StorageError
from recall.records.database import files, keys

Held = tuple[list[tuple[str, str, str | None]], list[int]]
"""Every part of a database as it is written down, and of each table how many rows it has."""


def rewrite(path: Path, code: str) -> bool:
    """Let a database file be encrypted with a key; return whether it was not yet.

    What stood before is taken away when the new file has been read back and holds as much.
    Nobody may have the file open.

    Raises:
        StorageError: no key opens it, or the new file does not hold what it should.
        sqlite3.Error: it cannot be read or written.
    """
    if not files.is_plain(path) and fits(path, code):
        return False
    trial = path.with_name(f".{path.name}.rewriting")
    trial.unlink(missing_ok=True)
    try:
        os.close(os.open(trial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        with files.in_plain_words(files.cipher()):
            before = _export(path, trial, code)
            with closing(_open(trial, code)) as written:
                _refuse_other(path, before, written)
        _reach_disk(trial)
        os.replace(trial, path)
    finally:
        trial.unlink(missing_ok=True)
    return True


def _export(path: Path, trial: Path, code: str) -> Held:
    """Copy a file, opened with whichever key is its own; return what it holds."""
    held = () if files.is_plain(path) else keys.codes()
    with closing(_open(path, *held)) as source:
        source.execute("PRAGMA journal_mode = DELETE")
        source.execute(f"ATTACH DATABASE ? AS anew KEY {files.pragma(code)}", (str(trial),))
        source.execute("PRAGMA anew.journal_mode = OFF")  # thrown away if it is cut off
        source.execute("PRAGMA anew.synchronous = OFF")  # it reaches the disk as a whole
        source.execute("SELECT sqlcipher_export('anew')")
        source.execute("DETACH DATABASE anew")
        return _held(source)


def _open(path: Path, *codes: str) -> sqlite3.Connection:
    """Return a connection to a file, without a key to a plain one.

    Its driver is made like `sqlite3`, and has no types of its own.
    """
    driver = files.cipher()
    for code in codes or ("",):
        connection: sqlite3.Connection = driver.connect(str(path), isolation_level=None, timeout=1)
        if files.opens(connection, code):
            return connection
        connection.close()
    raise StorageError(
        f"No key that is kept here opens {path}, or the file is damaged.",
        hint="It was left as it is.",
    )


def fits(path: Path, code: str) -> bool:
    """Return whether a key opens an encrypted file."""
    try:
        _open(path, code).close()
    except StorageError:
        return False
    return True


def _held(connection: sqlite3.Connection) -> Held:
    parts: list[tuple[str, str, str | None]] = connection.execute(
        "SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_stat%' ORDER BY 1, 2"
    ).fetchall()
    tables = [name for kind, name, _sql in parts if kind == "table"]
    return parts, [_rows(connection, name) for name in tables]


def _rows(connection: sqlite3.Connection, table: str) -> int:
    row: tuple[int] = connection.execute(f'SELECT count(*) FROM "{table}"').fetchone()
    return row[0]


def _refuse_other(path: Path, before: Held, written: sqlite3.Connection) -> None:
    said: list[tuple[str]] = written.execute("PRAGMA integrity_check(3)").fetchall()
    broken: object = written.execute("PRAGMA foreign_key_check").fetchone()
    if said != [("ok",)] or broken or _held(written) != before:
        raise StorageError(
            f"Written anew, {path} would not hold what it holds.",
            hint="It was left as it is; look at the disk.",
        )


def _reach_disk(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())
