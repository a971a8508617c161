"""What cannot be true of one ear at one visit, as a table.

A row stands only where both things cannot hold at once. What is merely unusual,
or can be known without seeing the drum (a tympanogram, hearing, a history,
discharge, an object reported), is left to the practitioner. `suspected` fluid
may rest on a flat trace, so it stands beside an unseen drum; `absent` and
`present` do not.
"""

from __future__ import annotations

from functools import lru_cache
from operator import attrgetter
from typing import Any, NamedTuple

from recall.care.ear import Ear


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
_UNSEEN_DRUM = (
    ("effusion", ("absent", "present")),
    ("red", ()),
    ("bulging", ()),
    ("tensa_grade", ()),
    ("tensa_mobile", ()),
    ("attic_grade", ()),
    ("attic_seen", (True,)),
    ("pocket_base_seen", (True,)),
    ("mass_behind_drum", ()),
    ("blood_behind_drum", ()),
    ("perforation", ()),
    ("tympanosclerosis", ()),
    ("grommet", ("in_place", "blocked")),
)
"""Needs at least a part of the drum in view."""

_LOOKED = "Leave examined out where the ear was looked into, or leave the finding out."
_UNEXAMINED = (
    *((field, refused) for field, refused in _UNSEEN_DRUM if field != "grommet"),
    ("grommet", ("in_place", "blocked", "in_canal")),
    ("wax_found", ()),
    ("wax_left", ()),
    ("clearance", ("cleared", "failed")),
    ("drum_seen", ("full", "part")),
    ("bullae", ()),
    ("scutum_erosion", ()),
    ("attic_crust", ()),
    ("granulation", ()),
    ("polyp", ()),
    ("keratin", ()),
    ("canal_skin", ()),
    ("canal_swollen_shut", ()),
    ("cavity_quiet", ()),
)
"""Needs somebody to look into the ear."""

TABLE: tuple[Row, ...] = (
    # wax and its clearance
    Row("wax_left", ("occluding",), "drum_seen", ("full",), 'Write drum_seen "part" or "none".'),
    Row(
        "wax_left",
        ("occluding",),
        "clearance",
        ("cleared",),
        'Write clearance "failed", or what wax was left after it.',
    ),
    Row(
        "clearance",
        ("failed",),
        "wax_left",
        ("none",),
        'Write clearance "cleared", or what wax was left.',
    ),
    Row("clearance", ("failed",), "clearance_tries", (0,), "Write how often it was tried."),
    Row(
        "clearance",
        ("not_attempted",),
        "clearance_tries",
        tuple(range(1, 51)),
        'Write clearance "cleared" or "failed".',
    ),
    Row(
        "wax_found",
        ("none",),
        "wax_left",
        ("some", "partial", "occluding"),
        "Write what wax was found at first.",
    ),
    # what was not seen
    *(Row("drum_seen", ("none",), other, refused, _SEEN) for other, refused in _UNSEEN_DRUM),
    Row(
        "attic_seen",
        (False,),
        "attic_grade",
        (),
        "Write attic_seen true where it could be graded, or leave the grade out.",
    ),
    Row("canal_swollen_shut", (True,), "drum_seen", ("full",), 'Write drum_seen "part" or "none".'),
    *(Row("examined", (False,), other, refused, _LOOKED) for other, refused in _UNEXAMINED),
    Row("not_examined", (), "examined", (None, True), "Write examined false beside it."),
    # what is not there
    Row("cavity_quiet", (), "cavity", (None, False), "Write cavity true beside it."),
    Row("grommet", ("none",), "grommet_on", (), 'Write grommet "gone" for one that was there.'),
    Row("grommet", ("none",), "grommet_long_term", (True,), "Write which grommet is meant."),
    Row(
        "perforation",
        ("none",),
        "perforation_cause",
        (),
        'Write perforation "healed" for one that has closed.',
    ),
    Row(
        "perforation",
        ("none", "healed"),
        "perforation_new",
        (True,),
        "Write where the new perforation is.",
    ),
    Row("discharge", ("none",), "discharge_since", (), "Write which discharge began then."),
)


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
    rows = _rows_for(_values_of(ear))
    if not rows:
        return ()
    pairs = ((row, getattr(ear, row.other)) for row in rows)
    return tuple(
        Contradiction(row, getattr(ear, row.field), other)
        for row, other in pairs
        if _breaks(row, other)
    )
