"""Who was erased, kept beside the database and the backups: a backup from before knows them still.

The list holds nobody's name: a row's number and the instant at which it was written, which
together are no other row's, whichever backup is put back and goes on from there.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

import msgspec

from recall import output
from recall.errors import StorageError
from recall.records.database import servers
from recall.records.database.files import opened
from recall.records.tables.base import Base

ENDING = ".erased"


class Erased(msgspec.Struct, frozen=True):
    """One person who was erased."""

    person: int
    recorded_at: datetime


class Listed(msgspec.Struct):
    """What the file says: of which register, and who."""

    register: str
    people: list[Erased]


def paths_of(database: Path, folders: Iterable[Path | None]) -> list[Path]:
    """Return where the list is kept: beside the database, and with each place of backups."""
    name = database.name + ENDING
    return [database.with_name(name), *(each / name for each in folders if each is not None)]


def add(paths: Iterable[Path], register: str, *more: Erased) -> None:
    """Let every list say what any of them says, and more; a place that is not there is left out.

    Raises:
        InputError: one cannot be written.
        StorageError: one is there and cannot be read.
    """
    paths = [path for path in paths if path.parent.is_dir()]
    every = {*on_lists(paths, register), *more}
    people = sorted(every, key=lambda one: (one.person, one.recorded_at))
    for path in paths if people else ():
        content = msgspec.json.encode(Listed(register, people)) + b"\n"
        output.write(path, content, named_here=True)


def on_lists(paths: Iterable[Path], register: str) -> set[Erased]:
    """Return who stands on any list of a register."""
    found = (_read(path) for path in paths)
    return {one for each in found if each and each.register == register for one in each.people}


def _read(path: Path) -> Listed | None:
    """Return what a list says; None where there is none.

    Raises:
        StorageError: it is there and cannot be read: nobody is brought back by that.
    """
    try:
        return msgspec.json.decode(path.read_bytes(), type=Listed)
    except FileNotFoundError:
        return None
    except (OSError, msgspec.DecodeError):
        raise StorageError(
            f"The list of who was erased, {path}, cannot be read.",
            hint="Nothing was changed; put it right from the copy beside the backups.",
        ) from None


def overwrite_free_space(database: Path) -> bool:
    """Build the file anew, so that nothing erased lies in its free pages or its log.

    Return whether it could be done in full: not while somebody else reads. A server's log is its
    own; there the tables are written anew.
    """
    if servers.address_of(database):
        return _written_anew(database)
    try:
        with opened(database, isolation_level=None, timeout=5) as connection:
            connection.execute("VACUUM")
            busy, *_rest = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    except sqlite3.OperationalError:
        return False
    return not busy


def _written_anew(database: Path) -> bool:
    """Let a server write its tables anew (PostgreSQL: "VACUUM", FULL); return whether it did.

    What it has noted of the commonest values names people as well (PostgreSQL: "pg_statistic"):
    it is noted again, and the table of that is written anew after the others.
    """
    from recall.records.database.engine import desk_engine
    from recall.records.database.store import in_words

    engine = desk_engine(database)
    try:
        with in_words(), engine.connect() as connection:
            alone = connection.execution_options(isolation_level="AUTOCOMMIT")
            for name in Base.metadata.tables:
                alone.exec_driver_sql(f"VACUUM (FULL, ANALYZE) {name}")
            alone.exec_driver_sql("VACUUM (FULL) pg_statistic")
    except StorageError:
        return False
    finally:
        engine.dispose()
    return True
