"""Opening the register: the one way in for the desk and the commands.

A file that is missing, empty or something else never becomes an empty register on its own where
there was one: whoever opens it is told of the newest backup.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING

from recall.clock import INVENTED, is_invented
from recall.config import Files
from recall.errors import StorageError
from recall.records.database import servers
from recall.records.database.files import opened
from recall.records.database.kept import newest
from recall.records.database.moved import refuse_moved
from recall.records.database.plain import Ask

if TYPE_CHECKING:
    from recall.records.database.store import Store


def open_register(files: Files) -> Store:
    """Open the register; one of real people never while the time is made up.

    Raises:
        StorageError: missing, not ours, damaged, of another version, or no invented one.
    """
    from recall.records.database.store import open_store

    refuse_gone(files)
    store = open_store(files.database)
    if is_invented() and not store.invented:
        store.close()
        raise StorageError(
            f"The time is made up ({INVENTED} is set), and this register is no invented one.",
            hint="Nothing was opened; take the variable away.",
        )
    return store


def may_be_opened(ask: Ask) -> bool:
    """Return whether a register is opened at all: one of real people never in a made-up time."""
    return not is_invented() or bool(ask("SELECT invented FROM register", {})[0][0])


def refuse_gone(files: Files) -> None:
    """Refuse to go on where there was a register and it is gone, empty, moved or another thing.

    Raises:
        StorageError: with the newest backup.
    """
    path = files.database
    refuse_moved(path)
    because = _empty(path) if servers.address_of(path) else _not_there(path)
    if not because:
        return
    saved = newest((files.backups, files.backups_elsewhere))
    if saved is not None:
        raise StorageError(
            f"The register is gone: {because}. The newest backup is {saved}.",
            hint="Nothing was made in its place; see recall restore --help.",
        )
    from recall.records.journal import head_file

    if head_file.path_of(path).exists():
        raise StorageError(
            f"The register is gone: {because}, and no backup is in {files.backups}.",
            hint=f"Look for one; to begin an empty register take {head_file.path_of(path)} away.",
        )


def _empty(path: Path) -> str:
    """Return what is wrong with the database on a server; nothing where something is in it."""
    from recall.records.database.store import is_blank

    return f"the database {servers.shown(path)} is empty" if is_blank(path) else ""


def _not_there(path: Path) -> str:
    """Return what is wrong with the place where the register was; nothing where one is."""
    if not path.exists():
        return f"there is no file at {path}"
    if not path.is_file():
        return ""
    if path.stat().st_size == 0:
        return f"the file at {path} is empty"
    try:
        with opened(path, "ro", timeout=5) as connection:
            wanted = "SELECT name FROM sqlite_master WHERE name IN ('alembic_version', 'staff')"
            ours = len(connection.execute(wanted).fetchall()) == 2
    except sqlite3.OperationalError:  # locked, or may not be read: said when it is opened
        return ""
    except sqlite3.DatabaseError:
        return f"the file at {path} is no database, or damaged, or encrypted and no key is set"
    return "" if ours else f"the file at {path} is no register of this program"
