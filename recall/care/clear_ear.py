"""An ear that is clear as far as it was seen: the findings of a usual visit, written at once.

Normal values are written only for what was said to be in view, never over what is recorded, and
never over what was not normal when it was last recorded: that is left to be looked at.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, Literal

import msgspec

from recall.care.case import Case
from recall.care.catalogue import CATALOGUE
from recall.care.ear import Ear, Side
from recall.care.giving_way import given_way

Wax = Literal["none", "some", "partial", "occluding"]
Seen = Literal["all", "drum", "part", "none"]
Hears = Literal["better", "same", "worse"]
_IN_VIEW: dict[Seen, tuple[str, ...]] = {
    "all": ("canal", "drum", "attic"),
    "drum": ("canal", "drum"),
    "part": ("canal",),
    "none": ("canal",),
}
_DRUM = {"all": "full", "drum": "full", "part": "part", "none": "none"}


def clear_ear(
    ear: Ear,
    side: Side,
    before: Case | None,
    normal: Mapping[str, Any],
) -> tuple[Ear, frozenset[str]]:
    """Return an ear written as clear, and the findings that are left to be looked at.

    Args:
        ear: what is recorded so far; none of it is written over.
        side: whose it is.
        before: the visits before this one.
        normal: what is to be written; see `normal_values`.
    """
    known = {name for name in normal if getattr(ear, name) is not None}
    doubtful = {n for n in normal if n not in known and _was_not_normal(before, side, n)}
    normal = {**normal, **_cavity(ear, side, before)}
    if "cavity" in normal and ear.cavity_quiet is None:
        doubtful.add("cavity_quiet")
    writes = {n: v for n, v in normal.items() if n not in known | doubtful}
    made = msgspec.structs.replace(ear, **writes)
    return given_way(made, frozenset(writes))[0], frozenset(doubtful)


def normal_values(found: Wax, seen: Seen, hears: Hears | None = None) -> dict[str, Any]:
    """Return everything that is written of an ear which is clear as far as it was seen.

    How they hear after it is written where wax was taken out, and never else.
    """
    writes: dict[str, Any] = {"wax_found": found, "wax_left": "none", "drum_seen": _DRUM[seen]}
    if found != "none":
        writes["clearance"] = "cleared"
    if found != "none" and hears is not None:
        writes["hearing_after"] = hears
    if seen in ("all", "drum"):
        writes["attic_seen"] = seen == "all"
    in_view = (f for f in CATALOGUE.values() if f.clear_in and f.clear_in in _IN_VIEW[seen])
    return writes | {f.name: f.normal for f in in_view if f.normal is not None}


def _cavity(ear: Ear, side: Side, before: Case | None) -> dict[str, bool]:
    """Return that there is an open cavity, where one is known: how quiet it is takes a look."""
    last = last_recorded(before, side, "cavity")
    return {"cavity": True} if ear.cavity is None and last and last[1] is True else {}


def _was_not_normal(before: Case | None, side: Side, name: str) -> bool:
    """Return whether the last visit that recorded a finding did not find it normal."""
    finding = CATALOGUE.get(name)
    if finding is None or not finding.clear_in:
        return False
    last = last_recorded(before, side, name)
    return last is not None and not finding.is_normal(last[1])


def last_recorded(before: Case | None, side: Side, name: str) -> tuple[date, Any] | None:
    """Return the last visit's day and value where a field of an ear was recorded."""
    visits = sorted(before.visits, key=lambda v: v.on, reverse=True) if before else ()
    for visit in visits:
        ear = visit.right if side == "right" else visit.left
        value = getattr(ear, name) if ear is not None else None
        if value is not None:
            return visit.on, value
    return None
