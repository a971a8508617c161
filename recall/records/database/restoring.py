"""Putting a backup back: tried aside, compared, then put in place whole or not at all.

What lies aside is a copy, brought to this program's version and checked like any register. The
old file stays beside it under another name. No desk or job may have the register open: that is
made sure by taking it out of write-ahead logging, which SQLite lets only its last user do
(SQLite: "Write-Ahead Logging", section 3.1), and then no log of the old file is left behind.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from recall.errors import Refused, StorageError
from recall.records.database import files, keys, servers, where
from recall.records.database.alone import CLOSE, OPEN, refuse_open
from recall.records.database.asking import asked, tables_of
from recall.records.database.backup import Head, check, head_of, link_at, make_backup, why_not
from recall.records.database.encrypting import rewrite
from recall.records.database.files import files_of, opened
from recall.records.database.moving import copied_from
from recall.records.database.upgrade import move

KINDS = {
    "person": "people",
    "visit": "visits",
    "contact": "contacts",
    "booking": "appointments",
    "letter": "letters",
    "referral": "referrals",
    "decision": "decisions",
    "matter": "matters",
}
"""What is counted of what would be lost, by table."""


@dataclass(frozen=True)
class Comparison:
    """What a backup holds, beside what is in place."""

    backup: Path
    then: Head
    now: Head | None
    """None where nothing in place can be read."""
    same_history: bool
    """The backup's last link is one of the history in place."""
    lost: dict[str, int]
    """What is in place and not in the backup, by kind."""

    @property
    def number(self) -> int:
        """Return how many lines of the history would be lost: this is asked for."""
        if self.now is None:
            return self.then.number
        return self.now.number - (self.then.number if self.same_history else 0)


@contextmanager
def aside(backup: Path, place: Path) -> Iterator[Path]:
    """Give a checked copy of a backup at this program's version, beside the place it goes to.

    Raises:
        StorageError: it cannot be read, is damaged, newer than this program, or no register.
    """
    trial = place.with_name(f".{place.name}.arriving")
    try:
        _fetch(backup, trial)
        yield trial
    except (OSError, sqlite3.Error) as error:
        raise StorageError(
            f"{backup.name} cannot be put back: {why_not(error)}.",
            hint="Nothing was changed; try another backup.",
        ) from None
    finally:
        for beside in files_of(trial):
            beside.unlink(missing_ok=True)


def _fetch(backup: Path, trial: Path) -> None:
    for beside in files_of(trial):
        beside.unlink(missing_ok=True)
    if not backup.is_file():
        raise StorageError(f"There is no backup at {backup}.", hint="Look into the folder.")
    trial.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    os.close(os.open(trial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    shutil.copyfile(backup, trial)
    if files.in_force():  # a backup from before is encrypted as well now
        rewrite(trial, keys.codes()[0])
    check(trial)
    revision = _revision(trial)
    if revision not in where.REVISIONS:
        raise StorageError(
            f"{backup.name} is no register that this program knows (revision {revision}).",
            hint="Nothing was changed; install the version that made it.",
        )
    move(trial, where.HEAD)
    check(trial)


def _revision(path: Path) -> str:
    with asked(path) as ask:
        rows = ask("SELECT version_num FROM alembic_version")
    return str(rows[0][0]) if rows else "none"


def compare(backup: Path, trial: Path, place: Path) -> Comparison:
    """Compare a copy that lies aside with the register in place."""
    then = head_of(trial)
    try:
        now: Head | None = head_of(place) if _is_register(place) else None
        counted = _counts(place) if now else {}
        same = now is not None and now.number >= then.number
        same = same and (not then.number or link_at(place, then.number) == then.digest)
    except (OSError, sqlite3.Error):
        now, counted, same = None, {}, False
    had = _counts(trial)
    lost = {words: counted.get(table, 0) - had[table] for table, words in KINDS.items()}
    return Comparison(backup, then, now, same, {w: n for w, n in lost.items() if n > 0})


def _is_register(path: Path) -> bool:
    there = servers.address_of(path) or (path.is_file() and path.stat().st_size > 0)
    return bool(there) and _revision(path) != "none"


def _counts(path: Path) -> dict[str, int]:
    with asked(path) as ask:
        names = tables_of(path, ask) & KINDS.keys()
        return {name: ask(f'SELECT count(*) FROM "{name}"')[0][0] for name in names}


def put_in_place(trial: Path, place: Path, at: datetime) -> Path | None:
    """Put a register that lies aside in its place at one stroke; return where the old one is.

    Of one on a server that is a backup of it; none where it held nothing.

    Raises:
        Refused: a desk or a job has the register open.
    """
    _fold(trial)
    stamp = at.astimezone(UTC).strftime("%Y%m%dT%H%M%S-%fZ")  # no name of a backup
    kept = place.with_name(f"{place.stem}-before-restore-{stamp}{place.suffix}")
    if servers.address_of(place):
        return _put_on_server(trial, place, kept.with_suffix(".db"), at)
    was_there = place.exists()
    if was_there:
        _let_go(place, kept)
        os.link(place, kept)
    os.replace(trial, place)
    _sync(place.parent)
    return kept if was_there else None


def _put_on_server(trial: Path, place: Path, kept: Path, at: datetime) -> Path | None:
    """Put the rows of a file in the place of all those of a register on a server."""
    refuse_open(place)
    held = _is_register(place)
    if held:
        make_backup(place, place.parent, at).path.rename(kept)
        refuse_open(place)  # a backup takes a while
    copied_from(trial, place)
    return kept if held else None


def _fold(path: Path) -> None:
    """Leave one file, with nothing of it in a log beside."""
    with opened(path) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _let_go(place: Path, kept: Path) -> None:
    """Make sure that nobody has the register open, and leave no log of it behind."""
    try:
        with opened(place, timeout=1) as connection:
            connection.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.OperationalError as error:
        if "locked" not in str(error):
            _rename_logs(place, kept)
            return
        raise Refused(OPEN, hint=CLOSE) from None
    except sqlite3.DatabaseError:
        _rename_logs(place, kept)


def _rename_logs(place: Path, kept: Path) -> None:
    """Keep the log of a damaged file beside it: it must not be read into the new one."""
    for ending in ("-wal", "-shm"):
        with suppress(FileNotFoundError):
            Path(f"{place}{ending}").rename(f"{kept}{ending}")


def _sync(folder: Path) -> None:
    """Let the folder itself reach the disk, where the system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
