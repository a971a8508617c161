"""The weeks ahead: what is booked, wanted, waiting and expected again, against what is given."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from typing import Literal, TypeVar, get_args

import msgspec

from recall.ahead.again import NONE_MISSED, Again, Missed
from recall.ahead.coming import Expected, created
from recall.ahead.work import BY_TELEPHONE, Booked, Piece, Slot
from recall.care.case import URGENCIES

WEEK = timedelta(days=7)
By = Literal["practitioner", "skill", "site"]
AXES: tuple[By, ...] = get_args(By)
T = TypeVar("T")
NOBODY = ""
"""The name of the group of what has no practitioner or site."""


class Week(msgspec.Struct, frozen=True, kw_only=True):
    """One week ahead, in appointments and in minutes."""

    monday: date
    booked: int = 0
    wanted: int = 0
    """Not booked, with the target in this week."""
    waiting: int = 0
    """Not booked, and the target went by: in window in the first week, the backlog by portions."""
    booked_minutes: int = 0
    wanted_minutes: int = 0
    waiting_minutes: int = 0
    again: Expected = Expected()
    """Minutes that appointments of these weeks bring: next looks, and those missed again."""
    missed: float = 0.0
    """How many of this week's appointments are expected to be missed."""
    gives: int = 0
    """Minutes of the rota."""
    closed: tuple[date, ...] = ()
    """Usual days on which nobody is there, by holidays and closures."""

    @property
    def asked(self) -> int:
        """Return the appointments of this week."""
        return self.booked + self.wanted + self.waiting

    @property
    def minutes(self) -> int:
        """Return the minutes that are asked for already."""
        return self.booked_minutes + self.wanted_minutes + self.waiting_minutes

    @property
    def over(self) -> int:
        """Return how many minutes more that is than the rota gives."""
        return max(0, self.minutes - self.gives)


def mondays_from(today: date, weeks: int) -> list[date]:
    """Return the Mondays of some weeks, this one first."""
    first = today - timedelta(days=today.weekday())
    return [first + n * WEEK for n in range(weeks)]


def in_portions(
    pieces: Iterable[Piece], today: date, portion: int, start: date | None = None
) -> dict[int, date]:
    """Return the week of each piece of the backlog, by number: so many a week, pressing first.

    `start` is a day of the first week that has any; this one where left out.
    """
    late = [p for p in pieces if p.latest < today]
    late.sort(key=lambda p: (URGENCIES.index(p.urgency), p.latest, p.number))
    (first,) = mondays_from(start or today, 1)
    return {p.number: first + (n // portion) * WEEK for n, p in enumerate(late)}


class Whole(msgspec.Struct, frozen=True):
    """All that the weeks ahead are made of."""

    pieces: Sequence[Piece]
    booked: Sequence[Booked]
    slots: Sequence[Slot]
    mondays: list[date]
    portions: dict[int, date]
    """The weeks of the backlog."""
    known: dict[str, Again]
    closed: frozenset[date] = frozenset()
    missed: Missed = NONE_MISSED

    @property
    def appointments(self) -> list[Piece]:
        """Return the pieces that need one."""
        return [p for p in self.pieces if not (p.does and p.does <= BY_TELEPHONE)]

    def weeks(self) -> tuple[Week, ...]:
        """Return the weeks of everything."""
        return _weeks(self, self.appointments, self.booked, self.slots)

    def by(self, what: By) -> dict[str, tuple[Week, ...]]:
        """Return the weeks of each practitioner, skill or site; of none: the empty name.

        A skill is counted wherever it is needed, so that skills sum to more than the whole.
        """
        pieces = _groups((p, _names(p, what)) for p in self.appointments)
        booked = _groups((b, _names_booked(b, what)) for b in self.booked)
        names = sorted({*pieces, *booked, *_rota_names(self.slots, what)})
        return {
            name: _weeks(
                self,
                pieces.get(name, []),
                booked.get(name, []),
                [slot for slot in self.slots if _gives(slot, what, name)],
            )
            for name in names
        }


def _groups(told: Iterable[tuple[T, Iterable[str]]]) -> dict[str, list[T]]:
    found: dict[str, list[T]] = {}
    for one, names in told:
        for name in names:
            found.setdefault(name, []).append(one)
    return found


def _names(piece: Piece, what: By) -> Iterable[str]:
    if what == "skill":
        return piece.does or (NOBODY,)
    return (piece.practitioner if what == "practitioner" else piece.site,)


def _names_booked(one: Booked, what: By) -> Iterable[str]:
    if what == "skill":
        return one.does or (NOBODY,)
    return (one.who if what == "practitioner" else one.site,)


def _rota_names(slots: Iterable[Slot], what: By) -> Iterator[str]:
    for slot in slots:
        if what == "skill":
            yield from slot.does or ()
        else:
            yield slot.who if what == "practitioner" else slot.site


def _gives(slot: Slot, what: By, name: str) -> bool:
    if what == "skill":
        return slot.does is None or name in slot.does
    return (slot.who if what == "practitioner" else slot.site) == name


def _weeks(
    whole: Whole, pieces: Sequence[Piece], booked: Sequence[Booked], slots: Iterable[Slot]
) -> tuple[Week, ...]:
    size = len(whole.mondays)
    counts: list[Counter[str]] = [Counter() for _ in whole.mondays]
    kinds: list[dict[str, tuple[int, int]]] = [{} for _ in whole.mondays]
    first = whole.mondays[0]
    for one in booked:
        if 0 <= (n := (one.on - first).days // 7) < size:
            counts[n].update(booked=1, booked_minutes=one.minutes)
            _seen(kinds[n], one.kind, one.minutes)
    for piece in pieces:
        day = whole.portions.get(piece.number, piece.target)
        word = "waiting" if piece.number in whole.portions or day < first else "wanted"
        if (n := max(0, (day - first).days // 7)) < size:
            counts[n].update({word: 1, f"{word}_minutes": piece.minutes})
            _seen(kinds[n], piece.kind, piece.minutes)
    for slot in slots:
        if 0 <= (n := (slot.on - first).days // 7) < size:
            counts[n]["gives"] += slot.minutes
    again = created(kinds, whole.known, size, whole.missed)
    return tuple(
        Week(
            monday=monday,
            again=again[n],
            missed=sum(people for people, _ in kinds[n].values()) * whole.missed.part,
            closed=_closed(whole, monday),
            **counts[n],
        )
        for n, monday in enumerate(whole.mondays)
    )


def _seen(kinds: dict[str, tuple[int, int]], kind: str, minutes: int) -> None:
    people, took = kinds.get(kind, (0, 0))
    kinds[kind] = people + 1, took + minutes


def _closed(whole: Whole, monday: date) -> tuple[date, ...]:
    return tuple(sorted(day for day in whole.closed if monday <= day < monday + WEEK))
