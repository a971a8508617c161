"""A copy of the database, made and checked when somebody asks for it."""

from __future__ import annotations

from pathlib import Path

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.records.database.backup import Backup, make_backup


@needs(Right.LOOK)
def back_up(desk: Desk, folder: Path | None = None) -> Backup:
    """Make a backup in a folder, or in the configured one, and check it.

    Raises:
        StorageError: it could not be made, or does not hold what the register holds.
    """
    return make_backup(desk.store.path, folder or desk.config.files.backups, desk.now)
