"""Rules made ready to match, sorted out by what else must hold once an ear's findings are known.

Most of what a rule asks of an ear's history needs something that most ears never had: fluid, a
grommet, a course of treatment. One look at what is there rules out all that stands behind it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date
from operator import attrgetter

import msgspec

from recall.protocol.context import Circumstance
from recall.protocol.lines import Line
from recall.protocol.rules import Rule
from recall.protocol.spans import Range

place_in_file = attrgetter("number")
_ALWAYS = "on"
"""The gate of rules without one: every circumstance has a day."""


class Compiled:
    """A rule ready to match: bits it needs, bits that block it, tests of its context."""

    __slots__ = ("blocks", "holds", "lacks", "lines", "need", "number", "range_lines", "rule")

    def __init__(self, rule: Rule, number: int) -> None:
        self.rule = rule
        self.number = number
        """Its place in the protocol."""
        self.need = 0
        self.blocks = 0
        self.holds: tuple[int, ...] = ()
        """Places of the context lines that must hold, in the matcher's list of them."""
        self.lacks: tuple[int, ...] = ()
        """Places of the context lines that must not."""
        self.lines: tuple[Line, ...] = ()
        self.range_lines: tuple[tuple[Line, Range], ...] = ()

    @property
    def since(self) -> date:
        """Return the first day on which the rule judges a visit."""
        return self.rule.since

    @property
    def until(self) -> date | None:
        """Return the day from which it does not any more."""
        return self.rule.until

    def in_force(self, on: date) -> bool:
        """Return whether the rule applies to a visit on that day."""
        return self.since <= on and (self.until is None or on < self.until)


_Rest = tuple[Compiled, tuple[int, ...]]
"""A rule with the places of its context lines but one."""


class Candidates(msgspec.Struct, frozen=True, gc=False):
    """The rules that some bits leave, by what else must hold for them."""

    free: tuple[Compiled, ...]
    """Rules that match as they are."""
    rules: tuple[Rule, ...]
    """The same, as they are returned."""
    held_back: tuple[Compiled, ...]
    """Rules that match unless a context line holds."""
    gates: Callable[[Circumstance], tuple[object, ...]]
    """What must be there for each of `behind` to be looked at."""
    behind: tuple[tuple[tuple[int, tuple[_Rest, ...]], ...], ...]
    """Behind each gate, rules by the place of the context line that most of them share, so that
    one look at it rules them all out."""


def by_rarest_bit(rules: Iterable[Compiled]) -> dict[int, list[Compiled]]:
    """Return rules by the bit of those they need that the fewest need; by 0 without any."""
    rules = list(rules)
    sharing = Counter(bit for c in rules for bit in bits_of(c.need))
    found: dict[int, list[Compiled]] = {}
    for c in rules:
        rarest = min(bits_of(c.need), key=sharing.__getitem__, default=0)
        found.setdefault(rarest, []).append(c)
    return found


def bits_of(bits: int) -> Iterator[int]:
    """Yield each bit of some, the lowest first.

    >>> list(bits_of(0b1010))
    [2, 8]
    """
    while bits:
        lowest = bits & -bits
        yield lowest
        bits ^= lowest


def left_by(bits: int, by_bit: Mapping[int, Sequence[Compiled]]) -> list[Compiled]:
    """Return the rules that some bits do not rule out, in their order."""
    found = [
        c
        for bit in (0, *bits_of(bits))
        for c in by_bit.get(bit, ())
        if bits & c.need == c.need and not bits & c.blocks
    ]
    return sorted(found, key=place_in_file)


def sorted_out(rules: Collection[Compiled], gates: Mapping[int, str]) -> Candidates:
    """Return rules by what is looked at first: a gate that many stand behind, then a line."""
    behind: dict[str, list[Compiled]] = {}
    doors = {c: {gates[p] for p in c.holds if p in gates} or {_ALWAYS} for c in rules if c.holds}
    sharing = Counter(gate for several in doors.values() for gate in several)
    for c, several in doors.items():
        behind.setdefault(max(sorted(several), key=sharing.__getitem__), []).append(c)
    free = tuple(c for c in rules if not c.holds and not c.lacks)
    return Candidates(
        free,
        tuple(c.rule for c in free),
        tuple(c for c in rules if not c.holds and c.lacks),
        attrgetter(*behind, _ALWAYS, _ALWAYS),
        tuple(_by_shared_line(several) for several in behind.values()),
    )


def _by_shared_line(rules: Collection[Compiled]) -> tuple[tuple[int, tuple[_Rest, ...]], ...]:
    sharing = Counter(place for c in rules for place in set(c.holds))
    grouped: dict[int, list[_Rest]] = {}
    for c in rules:
        shared = max(c.holds, key=sharing.__getitem__)
        grouped.setdefault(shared, []).append((c, tuple(p for p in c.holds if p != shared)))
    return tuple((place, tuple(several)) for place, several in grouped.items())
