"""What the visits tell of each gap between a clear ear and wax again.

A gap begins when an ear is left clear (`none` or `some`) and ends when wax has
grown back (`partial` or `occluding`). Nobody sees that day: wax found at a visit
grew at some time since the ear was last seen clear (interval-censored), and an
ear still clear at its last look says only "not yet" (right-censored). Taking the
day of the visit for the day of the return would make every gap look too long.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

import msgspec

from recall.care.case import Visit
from recall.care.ear import Side
from recall.care.findings.view import Wax

CLEAR: frozenset[str] = frozenset({"none", "some"})
"""The wax that counts as a clear ear; anything more has come back."""


class Look(msgspec.Struct, frozen=True):
    """One look at one ear: the wax found and the wax left; `None` was not recorded."""

    on: date
    found: Wax | None = None
    left: Wax | None = None


class Spell(msgspec.Struct, frozen=True):
    """One gap, counted in days from the day the ear was left clear."""

    low_days: float
    """Still clear then."""
    high_days: float | None = None
    """Wax was back by then; `None`: not yet when last seen."""

    def __post_init__(self) -> None:
        """Refuse a gap that ends before it was last seen clear."""
        if self.low_days < 0 or (self.high_days is not None and self.high_days <= self.low_days):
            raise ValueError("a spell needs 0 <= low_days < high_days")


class Past(msgspec.Struct, frozen=True):
    """One person's gaps in both ears, and on how many visits wax was recorded."""

    spells: tuple[Spell, ...]
    visits: int

    @property
    def events(self) -> int:
        """How often wax was found back."""
        return sum(s.high_days is not None for s in self.spells)


class _Gap:
    """The gap that is running while the looks at one ear are read in order."""

    def __init__(self) -> None:
        self.since: date | None = None
        self.clear_on: date | None = None
        self.ended: list[Spell] = []

    def begin(self, on: date) -> None:
        """Start a gap on the day the ear was left clear."""
        self.since = self.clear_on = on

    def end(self, back_on: date | None = None) -> None:
        """Close the gap: wax back by a day, or not known beyond the last clear look."""
        if self.since is None or self.clear_on is None:
            return
        low = (self.clear_on - self.since).days
        if back_on is not None and back_on > self.clear_on:
            self.ended.append(Spell(low, (back_on - self.since).days))
        elif low > 0:
            self.ended.append(Spell(low))
        self.since = self.clear_on = None

    def take(self, look: Look) -> None:
        """Read one look: first what was found, then what was left."""
        found, left = look.found, look.left
        if found is None and left is not None and left not in CLEAR:
            found = left  # wax that was left had been there
        if found is None and left is None:
            return
        if found is None:
            self.end()  # clear now, and nobody wrote down whether it had been blocked before
        elif found not in CLEAR:
            self.end(look.on)
        elif self.since is not None:
            self.clear_on = look.on
        after = left if left is not None else found
        if after not in CLEAR:
            self.end()
        elif self.since is None:
            self.begin(look.on)
        elif found == "some" and left == "none":
            self.end()  # wax was taken out, so it has to grow from nothing again
            self.begin(look.on)


def _read(looks: Iterable[Look]) -> _Gap:
    gap = _Gap()
    for look in sorted(looks, key=lambda k: k.on):
        gap.take(look)
    return gap


def spells(looks: Iterable[Look]) -> tuple[Spell, ...]:
    """Return the gaps of one ear, the running one last; ones that tell nothing are left out.

    A later look at a clear ear carries the same gap on; only wax coming back, or
    wax taken out, ends it. A blocked ear begins no gap until it is cleared.

    >>> spells([Look(date(2026, 1, 1), "occluding", "none"), Look(date(2026, 4, 1), "none"),
    ...         Look(date(2026, 7, 1), "partial", "none")])
    (Spell(low_days=90, high_days=181),)
    """
    gap = _read(looks)
    gap.end()
    return tuple(gap.ended)


def clear_since(looks: Iterable[Look]) -> date | None:
    """Return the day the running gap of one ear began, or `None` where none is running."""
    return _read(looks).since


def past(right: Sequence[Look], left: Sequence[Look]) -> Past:
    """Return what the looks at both ears tell together."""
    days = {k.on for k in (*right, *left) if k.found is not None or k.left is not None}
    return Past(spells(right) + spells(left), len(days))


def looks(visits: Iterable[Visit], side: Side) -> tuple[Look, ...]:
    """Return the looks at one ear in which wax was recorded.

    An ear noted as cleared was left without wax, also where nobody wrote that down again.
    """
    told = []
    for visit in visits:
        ear = visit.right if side == "right" else visit.left
        if ear is None:
            continue
        left = ear.wax_left or ("none" if ear.clearance == "cleared" else None)
        if ear.wax_found is not None or left is not None:
            told.append(Look(visit.on, ear.wax_found, left))
    return tuple(told)
