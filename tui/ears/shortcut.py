"""The shortcut of the visit form: ears written as clear, and what gives way to what is typed.

The shortcut writes normal values only for what was said to be in view, never over something
typed, and never over something that was not normal last time: those are left to be looked at
and typed one by one. What it wrote gives way where a digit says otherwise afterwards, and where
the shortcut is answered once more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import msgspec

from recall.care.case import Case
from recall.care.clear_ear import Seen, clear_ear
from recall.care.ear import SIDES, Side, recorded
from recall.care.giving_way import given_way
from tui.ears.fields import FIELDS, Field
from tui.ears.form import VisitForm, press

SEEN: tuple[tuple[Seen, str], ...] = (
    ("all", "the whole drum, and the attic"),
    ("drum", "the whole drum, but not the attic"),
    ("part", "a part of the drum: type what you saw of it"),
    ("none", "no drum"),
)
"""What was really seen, in the order of the digits; asked by every shortcut."""


@dataclass(frozen=True)
class Shortcut:
    """What a shortcut came to, and what it left to be looked at."""

    form: VisitForm
    left_open: tuple[tuple[Side, str], ...]
    """Cells that were not normal last time: not written."""
    kept: tuple[tuple[Side, str], ...] = ()
    """Cells that were typed otherwise than the shortcut would have written them."""
    is_anew: bool = False
    """Whether it took the place of what a shortcut wrote before."""


def clear(
    form: VisitForm,
    normal: Mapping[str, Any],
    before: Case | None,
    sides: tuple[Side, ...] = SIDES,
) -> Shortcut:
    """Return the form with some ears written as clear, as far as they were seen.

    Args:
        form: what was typed so far; none of it is written over, but what a shortcut wrote is.
        normal: what is written of each ear; see `care.clear_ear`.
        before: the visits before this one.
        sides: which ears.
    """
    open_cells: list[tuple[Side, str]] = []
    kept: list[tuple[Side, str]] = []
    is_anew = any(side in sides for side, _ in form.written)
    for side in sides:
        form = _taken_back(form, side)
        was = form.ear(side)
        typed = recorded(was)
        otherwise = {n for n, value in normal.items() if n in typed and typed[n] != value}
        ear, doubtful = clear_ear(was, side, before, normal)
        form = form.with_ear(side, ear)
        new = {(side, name) for name in recorded(ear).keys() - typed.keys()}
        form = fitting(replace(form, written=form.written | new), side)
        open_cells += [(side, row.name) for row in FIELDS if row.name in doubtful]
        kept += [(side, row.name) for row in FIELDS if row.name in otherwise]
    return Shortcut(form, tuple(open_cells), tuple(kept), is_anew)


def _taken_back(form: VisitForm, side: Side) -> VisitForm:
    """Return the form without what a shortcut wrote of an ear."""
    mine = dict.fromkeys(name for where, name in form.written if where == side)
    others = frozenset(each for each in form.written if each[0] != side)
    ear = msgspec.structs.replace(form.ear(side), **mine)
    return replace(form.with_ear(side, ear), written=others)


def pressed(form: VisitForm, side: Side, row: Field, key: str) -> VisitForm | None:
    """Return the form after a digit, with what follows from it; None where it means nothing."""
    made = press(form, side, row, key)
    return None if made is None else fitting(made, side)


def fitting(form: VisitForm, side: Side) -> VisitForm:
    """Return the form in which what the shortcut wrote of an ear fits what was typed of it."""
    mine = frozenset(name for where, name in form.written if where == side)
    if not mine:
        return form
    ear, left = given_way(form.ear(side), mine)
    others = frozenset(each for each in form.written if each[0] != side)
    return replace(form.with_ear(side, ear), written=others | {(side, name) for name in left})


def gave_way(before: VisitForm, after: VisitForm, side: Side, row: Field) -> str:
    """Return in words which other findings of an ear changed with a digit; empty: none did."""
    was, now = before.ear(side), after.ear(side)
    changed = [
        each.label.lower()
        for each in FIELDS
        if each != row and any(getattr(was, n) != getattr(now, n) for n in each.covers)
    ]
    if not changed:
        return ""
    shown = ", ".join(changed[:3]) + (f" and {len(changed) - 3} more" if len(changed) > 3 else "")
    return f"Changed with it, {side} ear: {shown}."
