"""How a list that is worked out from the whole register keeps up with what other desks do.

Its lines have no numbers: what a line is about tells it apart. Reading it takes as long as the
register is large, so that it is read again no oftener than leaves most of the time to others.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

REST = 5
"""How often as long as it took to read a list it is left alone, before it is read by itself."""
OLD = "Somebody has written since this was read: it is read again soon; press , to read it now."
_ABOUT = ("kind", "rule", "of", "part", "state", "entity", "entity_id", "reference", "what", "ear")


class Rereading:
    """Says when a list may be read again by itself."""

    def __init__(self) -> None:
        """Begin with nothing read."""
        self._began = 0.0
        self._from = 0.0

    def begins(self, now: float) -> None:
        """Take note that a list is being read."""
        self._began = now

    def ends(self, now: float) -> None:
        """Take note that it was read."""
        self._from = now + REST * (now - self._began)

    def may(self, now: float) -> bool:
        """Return whether it was left alone for long enough."""
        return now >= self._from


def place_of(was: Any, rows: Sequence[Any]) -> int | None:
    """Return where what a line was about stands now, from one on; None where it is gone."""
    if was is None:
        return None
    wanted = _about(was)
    return next((n for n, row in enumerate(rows, 1) if _about(row) == wanted), None)


def _about(row: Any) -> tuple[object, ...]:
    return tuple(getattr(row, name, None) for name in _ABOUT)
