"""Whether anybody has written into the register: one number, read in a moment.

A connection that never writes hears of every change, of this desk's own as well.
"""

from __future__ import annotations

from threading import Lock

from recall.records.database.engine import changes_seen
from recall.records.database.store import Store, in_words


class Watch:
    """A connection that only listens."""

    def __init__(self, store: Store) -> None:
        """Listen from now on."""
        self._lock = Lock()
        with in_words():
            self._connection = store.engine.connect()

    def count(self) -> int:
        """Return a number that is another one as soon as anybody has written."""
        with self._lock, in_words(), self._connection.begin():
            return changes_seen(self._connection)

    def close(self) -> None:
        """Listen no longer."""
        with self._lock:
            self._connection.close()
