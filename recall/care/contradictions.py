"""What cannot be true of one ear at one visit, as a table made from the catalogue.

A row stands only where both things cannot hold at once. What is merely unusual,
or can be known without seeing the drum (a tympanogram, hearing, a history,
discharge, an object reported), is left to the practitioner.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from operator import attrgetter
from typing import Any, NamedTuple

from recall.care.catalogue import CATALOGUE
from recall.care.ear import Ear
from recall.care.findings.entry import EVERY, Values


class Row(NamedTuple):
    """While `field` is one of `values`, `other` may not be one of `refused`."""

    field: str
    values: tuple[Any, ...]
    """Empty: whatever was recorded."""
    other: str
    refused: tuple[Any, ...]
    """Empty: whatever was recorded. None in it: not recorded is refused too."""
    instead: str


class Contradiction(NamedTuple):
    """One row that does not hold in an ear."""

    row: Row
    value: Any
    other_value: Any

    @property
    def says(self) -> str:
        """What is wrong with the refused field (`row.other`), in words."""
        one, other = _shown(self.value), _shown(self.other_value)
        return f"{other} cannot be while {self.row.field} is {one}"


_SEEN = 'Write drum_seen "part" where some of the drum was seen, or leave the finding out.'
_LOOKED = "Leave examined out where the ear was looked into, or leave the finding out."


def _any(values: Values) -> Values:
    return () if values is EVERY else values


def _rows() -> Iterator[Row]:
    """Yield what the catalogue says: each finding's own rows, then those of what was not seen."""
    for finding in CATALOGUE.values():
        for never in finding.never:
            yield Row(
                finding.name, _any(never.values), never.other, _any(never.refused), never.instead
            )
    for finding in CATALOGUE.values():
        if finding.of_drum:
            yield Row("drum_seen", ("none",), finding.name, _any(finding.of_drum), _SEEN)
    for finding in CATALOGUE.values():
        if of_ear := finding.of_ear or finding.of_drum:
            yield Row("examined", (False,), finding.name, _any(of_ear), _LOOKED)


TABLE: tuple[Row, ...] = tuple(_rows())


def _shown(value: Any) -> str:
    if value is None:
        return "not recorded"
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else str(value)


_FIELDS = tuple(dict.fromkeys(row.field for row in TABLE))
_values_of = attrgetter(*_FIELDS)


@lru_cache(maxsize=4096)
def _rows_for(values: tuple[Any, ...]) -> tuple[Row, ...]:
    """Return the rows that the values of `_FIELDS` call for; few combinations ever occur."""
    given = dict(zip(_FIELDS, values, strict=True))
    return tuple(row for row in TABLE if _calls_for(row, given[row.field]))


def _calls_for(row: Row, value: Any) -> bool:
    return value is not None and (value in row.values or not row.values)


def _breaks(row: Row, other: Any) -> bool:
    return other in row.refused if row.refused else other is not None


def contradictions(ear: Ear) -> tuple[Contradiction, ...]:
    """Return what cannot be true together in one ear, in the table's order.

    >>> [c.says for c in contradictions(Ear(wax_left="occluding", drum_seen="full"))]
    ['"full" cannot be while wax_left is "occluding"']
    """
    found = [*_not_taken_out(ear)] if ear.clearance == "not_attempted" else []
    rows = _rows_for(_values_of(ear))
    if not rows:
        return tuple(found)
    pairs = ((row, getattr(ear, row.other)) for row in rows)
    found += (
        Contradiction(row, getattr(ear, row.field), other)
        for row, other in pairs
        if _breaks(row, other)
    )
    return tuple(found)


_STAYED = Row(
    "clearance",
    ("not_attempted",),
    "wax_left",
    ("none", "some"),
    'Wax was found: write clearance "cleared" where it came out, or what wax was left.',
)


def _not_taken_out(ear: Ear) -> Iterator[Contradiction]:
    """Yield that wax which nobody tried to take out cannot be gone: three words, so no row."""
    if ear.wax_found in ("partial", "occluding") and ear.wax_left in _STAYED.refused:
        yield Contradiction(_STAYED, ear.clearance, ear.wax_left)
