"""Pieces of work and the days on which somebody can do them.

A piece is what one appointment meets; a slot is one practitioner's day with its minutes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

import msgspec

from recall.care.case import Do, Urgency
from recall.schedule.calendar import Calendar

NEVER_LATER: frozenset[Urgency] = frozenset({"emergency", "urgent", "high"})
"""Urgencies that levelling may bring forward, and never moves to a later day."""
BY_TELEPHONE: frozenset[Do] = frozenset({"call", "ask_after_care"})
"""What is done without an appointment."""


class Piece(msgspec.Struct, frozen=True, gc=False, kw_only=True):
    """Work that one appointment meets, with the window in which it is asked for."""

    number: int
    minutes: int
    earliest: date
    target: date
    latest: date
    urgency: Urgency = "medium"
    does: frozenset[Do] = frozenset()
    kind: str = ""
    """The category of what is asked for."""
    practitioner: str = ""
    """Whose visit asked for it."""
    site: str = ""


class Booked(msgspec.Struct, frozen=True, gc=False, kw_only=True):
    """An appointment that stands: so many minutes of a day, whoever gives them."""

    on: date
    minutes: int
    who: str = ""
    site: str = ""
    kind: str = ""
    does: frozenset[Do] = frozenset()
    late: bool = False
    """It lies after the latest day of what it is for."""


class Hours(msgspec.Struct, frozen=True, kw_only=True):
    """One practitioner's usual week, what they do, and when they are away."""

    who: str
    minutes: Mapping[int, int]
    """By day of the week, Monday is 0."""
    does: frozenset[Do] | None = None
    """None: whatever the practice does."""
    site: str = ""
    away: frozenset[date] = frozenset()
    also: Mapping[date, int] = {}
    """Minutes of single days beside the usual week."""


class Slot(msgspec.Struct, frozen=True, gc=False):
    """One practitioner's minutes of one day."""

    on: date
    who: str
    minutes: int
    does: frozenset[Do] | None = None
    site: str = ""

    def fits(self, piece: Piece) -> bool:
        """Return whether whoever it is can do a piece, at a site that is not another."""
        able = self.does is None or piece.does <= self.does
        return able and (not self.site or not piece.site or self.site == piece.site)


def slots(rota: Iterable[Hours], days: Sequence[date]) -> tuple[Slot, ...]:
    """Return every practitioner's minutes of some open days, in the order of the days."""
    return tuple(
        Slot(day, hours.who, minutes, hours.does, hours.site)
        for day in sorted(days)
        for hours in rota
        if day not in hours.away and (minutes := _minutes(hours, day))
    )


def _minutes(hours: Hours, day: date) -> int:
    return hours.minutes.get(day.weekday(), 0) + hours.also.get(day, 0)


def open_days(calendar: Calendar, rota: Iterable[Hours], first: date, last: date) -> list[date]:
    """Return the open days of some weeks, with the clinic days that are held beside them."""
    held = {day for hours in rota for day in hours.also if first <= day <= last}
    return sorted({*calendar.open_days(first, last), *held})
