"""Backups that were looked at: a copy taken while desks work, checked, restored on trial.

Copying the file is no backup: with write-ahead logging the newest rows lie beside it
(SQLite: "Write-Ahead Logging", section 3; "VACUUM INTO").
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from recall.errors import StorageError


@dataclass(frozen=True)
class Backup:
    """A copy that passed its checks."""

    path: Path
    rows: dict[str, int]
    """Rows by table."""


def make_backup(source: Path, folder: Path, at: datetime) -> Backup:
    """Copy the database while it is in use, and check the copy before it counts.

    Raises:
        StorageError: the copy could not be made, or does not hold what the source holds.
    """
    folder.mkdir(parents=True, exist_ok=True)
    stamp = at.astimezone(UTC).strftime("%Y%m%dT%H%M%S%fZ")
    target = folder / f"{source.stem}-{stamp}.db"
    unproven = target.with_suffix(".part")
    unproven.unlink(missing_ok=True)
    try:
        least = _copy(source, unproven)
        rows = check(unproven)
        _refuse_fewer(rows, least)
        unproven.rename(target)
        target.chmod(0o600)
    except sqlite3.Error as error:
        unproven.unlink(missing_ok=True)
        raise StorageError(
            f"The backup could not be made: {error}.",
            hint="Check the space and the rights in the backup folder, then try again.",
        ) from error
    except BaseException:
        unproven.unlink(missing_ok=True)
        raise
    return Backup(target, rows)


def check(path: Path) -> dict[str, int]:
    """Return the rows by table of a database file after checking it whole.

    Raises:
        StorageError: the file is damaged or has rows that point to nothing.
    """
    with _open(path) as connection:
        try:
            said = [row[0] for row in connection.execute("PRAGMA integrity_check(3)")]
            broken = connection.execute("PRAGMA foreign_key_check").fetchone()
            rows = _counts(connection)
        except sqlite3.DatabaseError as error:
            said, broken, rows = [str(error)], None, {}
    connection.close()
    if said != ["ok"] or broken:
        raise StorageError(
            f"The copy {path.name} is damaged: {said[0] if said != ['ok'] else 'broken links'}.",
            hint="Do not rely on it; make another, and check the disk.",
        )
    return rows


def rehearse(backup: Path) -> Backup:
    """Restore a backup into a scratch folder and check it there; the folder goes away again."""
    with tempfile.TemporaryDirectory() as scratch:
        restored = restore(backup, Path(scratch) / "restored.db")
        return Backup(backup, restored.rows)


def restore(backup: Path, to: Path) -> Backup:
    """Put a checked backup in the place of a database; what lay there is kept aside.

    All desks and jobs must be closed.
    """
    check(backup)
    arriving = to.with_suffix(".arriving")
    shutil.copyfile(backup, arriving)
    rows = check(arriving)
    for beside in (to, Path(f"{to}-wal"), Path(f"{to}-shm")):
        if beside.exists():
            beside.rename(beside.with_name(beside.name + ".before-restore"))
    arriving.rename(to)
    return Backup(to, rows)


def _copy(source: Path, target: Path) -> dict[str, int]:
    """Copy by VACUUM INTO; return the rows that the source held just before."""
    connection = _open(source)
    try:
        least = _counts(connection)
        connection.execute("VACUUM INTO ?", (str(target),))
    finally:
        connection.close()
    return least


def _open(path: Path) -> sqlite3.Connection:
    address = f"{path.absolute().as_uri()}?mode=rw"
    return sqlite3.connect(address, uri=True, isolation_level=None, timeout=5)


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
