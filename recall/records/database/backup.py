"""Backups that were looked at: a copy taken while desks work, checked to its last link.

Copying the file is no backup: with write-ahead logging the newest rows lie beside it
(SQLite: "Write-Ahead Logging", section 3; "VACUUM INTO"). The backup of a register on a server is
a file too, of the same rows: it needs no server to be looked at or put back.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from recall.errors import StorageError
from recall.records.database import servers
from recall.records.database.asking import asked, tables_of
from recall.records.database.files import opened
from recall.records.database.moving import copied_from


@dataclass(frozen=True)
class Head:
    """The last link of a register's history, and which register it is."""

    number: int
    digest: str
    at: str = ""
    """The instant of the last line, in UTC, as it is stored."""
    mark: str = ""
    """What tells one register from another; empty in those from before revision 0016."""

    @property
    def in_names(self) -> str:
        """Return what a backup's name says of it; nothing of an empty history."""
        return f"-{self.number}-{self.digest[:12]}" if self.number else ""

    @property
    def on(self) -> str:
        """Return the day of the last line."""
        return self.at[:10]


def head_of(path: Path) -> Head:
    """Return the last link of a database file's history.

    Raises:
        sqlite3.Error: it cannot be read, or holds no history.
    """
    with asked(path) as ask:
        names = tables_of(path, ask)
        if "history" not in names:  # a register from before revision 0003
            return Head(0, "")
        last = ask("SELECT h.id, h.digest, h.at FROM history h ORDER BY h.id DESC LIMIT 1")
        row = tuple(last[0]) if last else ()
        said = ask("SELECT seq, digest FROM history_head") or [(0, "")]
        if tuple(said[0]) != (row[:2] or (0, "")):
            raise sqlite3.DatabaseError("its history lacks its end")
        mark = ask("SELECT mark FROM register") if "register" in names else ()
    number, digest, at = row or (0, "", "")
    return Head(number, digest, str(at), mark[0][0] if mark else "")


def link_at(path: Path, number: int) -> str:
    """Return the digest of one link of a database file's history; empty where it has none."""
    with asked(path) as ask:
        rows = ask("SELECT digest FROM history WHERE id = ?", number)
    return str(rows[0][0]) if rows else ""


def why_not(error: OSError | sqlite3.Error) -> str:
    """Return in words why a file could not be read or written."""
    return (error.strerror or str(error)) if isinstance(error, OSError) else str(error)


@dataclass(frozen=True)
class Backup:
    """A copy that passed its checks."""

    path: Path
    rows: dict[str, int]
    """Rows by table."""
    head: Head
    """The last link of its history."""


def make_backup(source: Path, folder: Path, at: datetime) -> Backup:
    """Copy the database while it is in use, and check the copy before it counts.

    Raises:
        StorageError: the copy could not be made, or does not hold what the source holds.
    """
    stamp = at.astimezone(UTC).strftime("%Y%m%dT%H%M%S%fZ")
    unproven = folder / f"{source.stem}-{stamp}.part"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        unproven.unlink(missing_ok=True)
        least = _copy(source, unproven)
        rows = check(unproven)
        _refuse_fewer(rows, least)
        head = head_of(unproven)
        _refuse_other_chain(source, head)
        unproven.chmod(0o600)
        target = folder / f"{source.stem}-{stamp}{head.in_names}.db"
        unproven.rename(target)
    except (OSError, sqlite3.Error) as error:
        with suppress(OSError):  # where the folder is none, nothing lies in it
            unproven.unlink(missing_ok=True)
        raise StorageError(
            f"The backup could not be made: {why_not(error)}.",
            hint="Check the space and the rights in the backup folder, then try again.",
        ) from error
    except BaseException:
        unproven.unlink(missing_ok=True)
        raise
    return Backup(target, rows, head)


def copy_elsewhere(backup: Path, folder: Path, database: Path) -> Path:
    """Copy a checked backup to a second place, and check that it arrived whole.

    Raises:
        StorageError: it could not be copied, or the place is on the database's own disk.
    """
    unproven = folder / f"{backup.stem}.part"
    try:
        beside = database if database.exists() else backup  # a server's disk is not seen
        if folder.stat().st_dev == beside.stat().st_dev:
            raise StorageError(
                f"The second place for backups, {folder}, is on the disk of the database itself.",
                hint="The first copy is made; name a folder of another disk or machine.",
            )
        unproven.unlink(missing_ok=True)
        with backup.open("rb") as source, unproven.open("xb") as target:
            shutil.copyfileobj(source, target)
            target.flush()
            os.fsync(target.fileno())
        unproven.chmod(0o600)
        check(unproven)
        unproven.replace(folder / backup.name)
    except OSError as error:
        raise StorageError(
            f"The backup could not be copied to {folder}: {why_not(error)}.",
            hint="The first copy is made; see to the second place.",
        ) from None
    finally:
        with suppress(OSError):
            unproven.unlink(missing_ok=True)
    return folder / backup.name


def check(path: Path) -> dict[str, int]:
    """Return the rows by table of a database file after checking it whole.

    Raises:
        StorageError: the file is damaged or has rows that point to nothing.
    """
    with opened(path, isolation_level=None, timeout=5) as connection:
        try:
            said = [row[0] for row in connection.execute("PRAGMA integrity_check(3)")]
            broken = connection.execute("PRAGMA foreign_key_check").fetchone()
            rows = _counts(connection)
        except sqlite3.DatabaseError as error:
            said, broken, rows = [str(error)], None, {}
    if said != ["ok"] or broken:
        raise StorageError(
            f"The copy {path.name} is damaged: {said[0] if said != ['ok'] else 'broken links'}.",
            hint="Do not rely on it; make another, and check the disk.",
        )
    return rows


def _copy(source: Path, target: Path) -> dict[str, int]:
    """Copy a file by VACUUM INTO, what is on a server row by row, in one state of it.

    Return the rows that the source held just before, or at that moment.
    """
    if servers.address_of(source):
        return copied_from(source, target)
    with opened(source, isolation_level=None, timeout=5) as connection:
        least = _counts(connection)
        connection.execute("VACUUM INTO ?", (str(target),))
    return least


def _refuse_other_chain(source: Path, head: Head) -> None:
    """The copy's last link must be one of the register's own, with the same digest."""
    if head.number and link_at(source, head.number) != head.digest:
        raise StorageError(
            "The backup's history is not the register's.",
            hint="It was thrown away; make another, and check the disk.",
        )


def _counts(connection: sqlite3.Connection) -> dict[str, int]:
    found = connection.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
    )
    names = sorted(row[0] for row in found)
    return {
        name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in names
    }


def _refuse_fewer(rows: dict[str, int], least: dict[str, int]) -> None:
    """Rows are never removed (but for search keys), so a copy cannot hold fewer."""
    short = [n for n, count in least.items() if n != "person_key" and rows.get(n, -1) < count]
    if short:
        raise StorageError(
            f"The backup holds fewer rows than the database ({', '.join(short)}).",
            hint="It was thrown away; make another, and check the disk.",
        )
