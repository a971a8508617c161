"""Taking turns at the write lock: a long run of writes lets those pass who wait for it.

SQLite gives its lock to whoever asks first when it is free (SQLite: "Set A Busy Timeout" tries
again after pauses), so a run that writes page after page could keep everybody else out. Whoever
begins to write shares a lock on the register's folder until the write lock is theirs; a long run
goes on once nobody shares it. The system lets go of the lock however its holder ends. Where a
folder cannot be locked (Windows, some network disks) a run only pauses.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

PAUSE = 0.03
"""Seconds: somebody who waits for the write lock tries again after 0.02 to 0.1 of them."""
MOST = 10.0
"""Seconds that a long run lets others pass between two of its writes."""


@contextmanager
def waiting(folder: Path) -> Iterator[None]:
    """Show that somebody waits to write to the register in this folder, until they may."""
    handle = _opened(folder)
    if handle is None:
        yield
        return
    try:
        with suppress(OSError):
            _lock(handle, shared=True)
        yield
    finally:
        os.close(handle)


def let_pass(folder: Path, most: float = MOST) -> bool:
    """Wait until nobody waits to write, `most` seconds at most; return whether nobody does."""
    until = time.monotonic() + most
    handle = _opened(folder)
    if handle is None:
        time.sleep(PAUSE)
        return True
    try:
        while not _is_free(handle):
            if time.monotonic() >= until:
                return False
            time.sleep(PAUSE)
        return True
    finally:
        os.close(handle)


def _is_free(handle: int) -> bool:
    """Return whether nobody shares the lock, or this folder knows of no locks."""
    try:
        _lock(handle, shared=False)
    except BlockingIOError:
        return False
    except OSError:
        time.sleep(PAUSE)
    return True


if sys.platform == "win32":

    def _opened(_folder: Path) -> int | None:
        return None

    def _lock(_handle: int, *, shared: bool) -> None:
        raise OSError

else:
    import fcntl

    def _opened(folder: Path) -> int | None:
        try:
            return os.open(folder, os.O_RDONLY)
        except OSError:
            return None

    def _lock(handle: int, *, shared: bool) -> None:
        # A run holds the other lock for no longer than it takes to let go of it.
        fcntl.flock(handle, fcntl.LOCK_SH if shared else fcntl.LOCK_EX | fcntl.LOCK_NB)
