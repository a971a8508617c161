"""What if: the rota with a change, and which asks would be late under it.

Work is served in the order of urgency and of the latest day, each piece in the first room that
there is on the rota from the opening of its window on: the least that can be late so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta

import msgspec
from msgspec.structs import replace

from recall.ahead.work import Booked, Hours, Piece, Slot, taken_by
from recall.care.case import URGENCIES


class Served(msgspec.Struct, frozen=True):
    """The day of each piece, by number; None where no room comes in the weeks looked at."""

    days: Mapping[int, date | None]
    late: tuple[Piece, ...]
    """What is served after its latest day, or not before these weeks end: pressing first."""


def served(
    pieces: Iterable[Piece],
    within: Sequence[Slot],
    booked: Iterable[Booked],
    not_before: Mapping[int, date],
) -> Served:
    """Return when each piece would be seen.

    Args:
        pieces: what is to be placed.
        within: every practitioner's day, in the order of the days.
        booked: what stands.
        not_before: the week of what is backlog, by number.
    """
    room = _room(within, booked)
    end = within[-1].on if within else date.min
    days: dict[int, date | None] = {}
    late = []
    for piece in sorted(pieces, key=_pressing_first):
        opens = max(piece.earliest, not_before.get(piece.number, piece.earliest))
        found = next(
            (
                n
                for n, slot in enumerate(within)
                if slot.on >= opens and room[n] >= piece.minutes and slot.fits(piece)
            ),
            None,
        )
        if found is not None:
            room[found] -= piece.minutes
        day = None if found is None else within[found].on
        days[piece.number] = day
        if piece.latest < (end + timedelta(days=1) if day is None else day):
            late.append(piece)
    return Served(days, tuple(late))


def _pressing_first(piece: Piece) -> tuple[int, date, int]:
    return URGENCIES.index(piece.urgency), piece.latest, piece.number


def _room(within: Sequence[Slot], booked: Iterable[Booked]) -> list[int]:
    room = [slot.minutes for slot in within]
    for one in booked:
        here = [n for n, slot in enumerate(within) if slot.on == one.on]
        theirs = taken_by(within, here, one)
        if theirs:
            most = max(theirs, key=lambda n: room[n])
            room[most] -= one.minutes
    return room


def with_day(rota: Iterable[Hours], day: date) -> tuple[Hours, ...]:
    """Return the rota with one clinic day more: everybody who is not away, their longest day."""
    return tuple(
        hours
        if day in hours.away
        else replace(hours, also={**hours.also, day: max(hours.minutes.values(), default=0)})
        for hours in rota
    )


def with_away(rota: Iterable[Hours], who: str, first: date, last: date) -> tuple[Hours, ...]:
    """Return the rota with one practitioner away for some days, both ends included."""
    days = {first + timedelta(days=n) for n in range((last - first).days + 1)}
    return tuple(
        replace(hours, away=hours.away | days) if hours.who == who else hours for hours in rota
    )
