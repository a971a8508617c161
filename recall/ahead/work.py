"""Pieces of work and the days on which somebody can do them.

A piece is what one appointment meets; a slot is one practitioner's day with its minutes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta

import msgspec
from msgspec.structs import replace

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
    overdue: bool = False
    """Its latest day has gone by: the window is the time in which it is to be made good."""


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


MADE_GOOD = timedelta(days=6)
SOON = timedelta(days=2)
"""Within how many days what is overdue is to be offered one, and what presses besides: common
practice, no source."""
_PRESSING: frozenset[Urgency] = frozenset({"emergency", "urgent"})


def from_today(piece: Piece, today: date, week: date | None = None) -> Piece:
    """Return a piece with its window from today on; what is overdue is to be made good soon.

    Args:
        piece: what is to be placed.
        today: no day before it is offered.
        week: the Monday of the portion of the backlog that it is in.
    """
    if piece.latest >= today:
        return replace(piece, earliest=max(piece.earliest, today))
    first = max(week or today, today)
    last = first + MADE_GOOD
    if piece.urgency in _PRESSING:
        last = min(last, first + SOON)
    return replace(piece, earliest=first, target=first, latest=max(first, last), overdue=True)


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
    """Minutes of single days, in the place of the usual week's."""


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


def taken_by(within: Sequence[Slot], here: Sequence[int], one: Booked) -> Sequence[int]:
    """Return which slots of its day an appointment may be in: of whoever sees them, at its site.

    Where nobody's slot fits both: their slots, or those at the site, or any.
    """
    at = [n for n in here if one.site and within[n].site == one.site]
    theirs = [n for n in here if within[n].who == one.who]
    return [n for n in theirs if n in at] or theirs or at or here


def _minutes(hours: Hours, day: date) -> int:
    return hours.also.get(day, hours.minutes.get(day.weekday(), 0))


def open_days(calendar: Calendar, rota: Iterable[Hours], first: date, last: date) -> list[date]:
    """Return the open days of some weeks, with the clinic days that are held beside them."""
    held = {day for hours in rota for day in hours.also if first <= day <= last}
    return sorted({*calendar.open_days(first, last), *held})
