"""One way to spread the work, and what it costs."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import msgspec

from recall.ahead.work import Piece

FINE = 1000
"""What a minute beyond the rota costs: more than the last minute of any full day of 8 hours."""


def fine_of(minutes: int, given: int) -> int:
    """Return what so many minutes cost in a slot.

    >>> fine_of(300, 400), fine_of(401, 400)
    (90000, 161801)
    """
    return minutes * minutes + FINE * max(0, minutes - given)


class Placed(msgspec.Struct, frozen=True, gc=False):
    """A piece with the day that is proposed, and with whom."""

    piece: Piece
    on: date
    who: str

    @property
    def late(self) -> bool:
        """Return whether that is after the latest day."""
        return self.on > self.piece.latest


class LeftOut(msgspec.Struct, frozen=True, gc=False):
    """A piece for which there is no day, with why."""

    piece: Piece
    why: str


class Proposal(msgspec.Struct, frozen=True):
    """One way to spread the work, with what it makes of the days."""

    placed: tuple[Placed, ...]
    days: Mapping[date, int]
    """The minutes of each day, with what is booked."""
    squares: int
    """The sum of the squared minutes of every practitioner's day."""
    over: int
    """Minutes beyond what the rota gives."""

    @property
    def cost(self) -> int:
        """Return what levelling makes as small as it can."""
        return self.squares + FINE * self.over

    @property
    def busiest(self) -> int:
        """Return the minutes of the fullest day."""
        return max(self.days.values(), default=0)
