"""Bringing a database to another revision: backup first, all or nothing, no row lost."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Engine

from recall.errors import StorageError
from recall.records.database import files, servers, where
from recall.records.database.backup import make_backup
from recall.records.database.engine import (
    migration_engine,
    refuse_broken_links,
    refuse_unfit,
    writing,
)
from recall.records.database.stepping import step
from recall.records.database.store import in_words, is_blank, revision, something_else


@dataclass(frozen=True)
class Upgraded:
    """What an upgrade did."""

    was: str | None
    now: str
    backup: Path | None


def upgrade(path: Path, backup_folder: Path | None = None, *, at: datetime) -> Upgraded:
    """Bring the database at `path` to this program's revision, making it where there is none.

    An existing one is backed up first, into `backup_folder` or beside it, named by the instant.

    Raises:
        StorageError: locked, damaged, newer than this program, or left with broken links.
    """
    on_server = bool(servers.address_of(path))
    existed = on_server or (path.is_file() and path.stat().st_size > 0)
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    if not on_server:
        files.keep_others_out(path)
    engine = migration_engine(path)
    try:
        with in_words():
            was = _at(engine) if existed else None
            if was == where.HEAD:
                return Upgraded(was, was, None)
            if was is not None and was not in where.REVISIONS:
                raise StorageError(
                    f"The database is at revision {was}, newer than this program.",
                    hint="Install the newer version of the program.",
                )
            if was is None and existed and not is_blank(path):
                raise something_else(path)
            folder = backup_folder or path.parent
            saved = make_backup(path, folder, at) if was else None
            move(path, where.HEAD)
    finally:
        engine.dispose()
    return Upgraded(was, where.HEAD, saved.path if saved else None)


def move(path: Path, to: str) -> None:
    """Move the database to revision `to` (or "base"), up or down, in one transaction.

    The write lock is taken before the revision is read: of two programs that upgrade at the
    same time, the second finds nothing left to do.
    """
    engine = migration_engine(path)
    try:
        with (
            in_words(),
            writing(engine).connect() as connection,
            connection.begin(),
        ):
            refuse_unfit(connection)
            step(connection, to)
            refuse_broken_links(connection)
    finally:
        engine.dispose()


def _at(engine: Engine) -> str | None:
    with engine.connect() as connection:
        return revision(connection)
