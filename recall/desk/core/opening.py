"""Opening the register: the one way in for the desk and the commands."""

from __future__ import annotations

from pathlib import Path

from recall.clock import INVENTED, is_invented
from recall.errors import StorageError
from recall.records.database.store import Store, open_store


def open_register(path: Path) -> Store:
    """Open the register at `path`; one of real people never while the time is made up.

    Raises:
        StorageError: missing, not ours, damaged, of another version, or no invented one.
    """
    store = open_store(path)
    if is_invented() and not store.invented:
        store.close()
        raise StorageError(
            f"The time is made up ({INVENTED} is set), and this register is no invented one.",
            hint="Nothing was opened; take the variable away.",
        )
    return store
