"""One runner on one machine: a lock that the system lets go of however its holder ends."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from recall.errors import Conflict, StorageError


@contextmanager
def only_runner(database: Path) -> Iterator[None]:
    """Hold the runner's lock beside the database.

    Raises:
        Conflict: another runner holds it.
        StorageError: the lock file cannot be made.
    """
    path = database.with_name(f"{database.name}.runner")
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise StorageError(
            f"The runner's lock {path} cannot be made: {error.strerror or error}.",
            hint="Check the rights in the database's folder.",
        ) from None
    try:
        if not _locked(handle):
            raise Conflict(
                "Another runner serves this register already.",
                hint="Nothing needs to be done; recall jobs status says where it stands.",
            )
        yield
    finally:
        os.close(handle)


if sys.platform == "win32":

    def _locked(handle: int) -> bool:
        import msvcrt

        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:

    def _locked(handle: int) -> bool:
        import fcntl

        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
