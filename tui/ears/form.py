"""The visit form without a screen: what each key writes.

What is not typed is not recorded, and that is never the same as normal.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import msgspec

from recall.care.case import Case, Category, Reported, ReportWord, To, Visit
from recall.care.contradictions import contradictions
from recall.care.ear import SIDES, Ear, Side, recorded
from recall.schedule.plan import Decision
from recall.schedule.plan_lines import Judgement
from tui.ears.fields import BY_NAME, FIELDS, Field
from tui.ears.text import mean_words, read_field, show_field

NONE = Ear()


@dataclass(frozen=True)
class VisitForm:
    """Everything typed about one visit so far."""

    on: date
    examiner: str = ""
    """Who examined at the visit that this one puts right; otherwise who began this one."""
    right: Ear = NONE
    left: Ear = NONE
    reported: tuple[ReportWord | Reported, ...] = ()
    note: str = ""
    letter_words: str = ""
    category: Category | None = None
    """Set by hand; None is what the findings suggest."""
    category_why: str = ""
    category_ears: tuple[Side, ...] = ()
    moves: tuple[Decision, ...] = ()
    """Dates changed by hand, each with its reason."""
    judged: tuple[tuple[str, Judgement], ...] = ()
    """Lines of the plan by name, and what was made of each."""
    replaces: str = ""
    """The line that the kind set by hand takes the place of."""
    corrects: int | None = None
    """The number of the visit that this one puts right."""
    written: frozenset[tuple[Side, str]] = field(default=frozenset(), compare=False)
    """What a shortcut wrote, and nobody typed since: it gives way to what is typed."""

    def ear(self, side: Side) -> Ear:
        """Return what was typed of one ear."""
        return self.right if side == "right" else self.left

    def with_ear(self, side: Side, ear: Ear) -> VisitForm:
        """Return the form with other findings of one ear."""
        return replace(self, right=ear) if side == "right" else replace(self, left=ear)

    @property
    def is_empty(self) -> bool:
        """Return whether nothing has been typed."""
        typed = (self.reported, self.note.strip(), self.letter_words.strip())
        decided = (self.category, self.moves, self.judged)
        return not any((*typed, *decided)) and self.right == NONE and self.left == NONE

    @property
    def has_findings(self) -> bool:
        """Return whether anything was seen or said."""
        return bool(self.reported) or self.right != NONE or self.left != NONE

    @property
    def only_judges(self) -> bool:
        """Return whether lines that stand were judged, and nothing was typed of a visit."""
        typed = (self.has_findings, self.category, self.note.strip(), self.letter_words.strip())
        return bool(self.judged or self.moves) and self.corrects is None and not any(typed)

    @property
    def asks(self) -> tuple[Decision, ...]:
        """Return what the kind of follow-up set by hand asks for, ear by ear."""
        if self.category is None:
            return ()
        to: To | None = "ent" if self.category == "refer" else None
        return tuple(
            Decision(
                on=self.on,
                ear=side,
                action="ask",
                category=self.category,
                to=to,
                why=self.category_why,
            )
            for side in self.category_ears or SIDES
        )

    @property
    def visit(self) -> Visit:
        """Return the visit as the case file has it; an ear without findings is left out."""
        return Visit(
            on=self.on,
            examiner=self.examiner or None,
            reported=self.reported,
            right=self.right if self.right != NONE else None,
            left=self.left if self.left != NONE else None,
        )


def form_of(visit: Visit, corrects: int | None = None) -> VisitForm:
    """Return the form of a visit that is to be put right."""
    return VisitForm(
        on=visit.on,
        examiner=visit.examiner or "",
        right=visit.right or NONE,
        left=visit.left or NONE,
        reported=visit.reported,
        corrects=corrects,
    )


def press(form: VisitForm, side: Side, row: Field, key: str) -> VisitForm | None:
    """Return the form after a digit on one cell; None where the digit means nothing there."""
    answer = row.answer_by(key)
    if answer is None:
        return None
    typed = form.with_ear(side, msgspec.structs.replace(form.ear(side), **answer.writes))
    return _typed(typed, side, row)


def empty(form: VisitForm, side: Side, row: Field) -> VisitForm:
    """Return the form with one cell not recorded."""
    blank = dict.fromkeys(row.covers)
    return _typed(form.with_ear(side, msgspec.structs.replace(form.ear(side), **blank)), side, row)


def write(form: VisitForm, side: Side, row: Field, text: str) -> VisitForm:
    """Return the form with a text read into one cell.

    Raises:
        InputError: the text cannot be read.
    """
    value = read_field(row, text, form.on)
    typed = form.with_ear(side, msgspec.structs.replace(form.ear(side), **{row.name: value}))
    return _typed(typed, side, row)


def copy_across(form: VisitForm, side: Side, row: Field) -> VisitForm:
    """Return the form with one cell's answer in the other ear, too."""
    other: Side = "left" if side == "right" else "right"
    same = {name: getattr(form.ear(side), name) for name in row.covers}
    copied = form.with_ear(other, msgspec.structs.replace(form.ear(other), **same))
    return _typed(copied, other, row)


def _typed(form: VisitForm, side: Side, row: Field) -> VisitForm:
    """Return the form with a cell that was typed, and counts as written by no shortcut."""
    cells = {(side, name) for name in row.covers}
    return replace(form, written=form.written - cells) if cells & form.written else form


def cell_words(ear: Ear | None, row: Field) -> str:
    """Return what a cell shows; nothing where nothing was recorded."""
    if ear is None:
        return ""
    if row.kind == "words":
        answer = row.answer_of(ear)
        return answer.words if answer else ""
    value = getattr(ear, row.name)
    if row.kind == "levels" and value:
        return mean_words(value) or show_field(row, value)
    return show_field(row, value)


def is_normal(ear: Ear, row: Field) -> bool:
    """Return whether a cell holds what a healthy ear shows."""
    return row.normal is not None and row.normal.holds(ear)


def last_ear(before: Case | None, side: Side) -> tuple[Ear, dict[str, date]]:
    """Return what was last recorded of each field of an ear, and on which day."""
    values: dict[str, Any] = {}
    days: dict[str, date] = {}
    for visit in sorted(before.visits, key=lambda v: v.on) if before else ():
        found = recorded(visit.right if side == "right" else visit.left)
        values |= found
        days |= dict.fromkeys(found, visit.on)
    return Ear(**values), days


@dataclass(frozen=True)
class Wrong:
    """Something that cannot be true of one ear."""

    side: Side
    fields: tuple[str, str]
    says: str
    instead: str


def wrongs(form: VisitForm) -> tuple[Wrong, ...]:
    """Return what cannot be true together, in words, ear by ear."""
    found = []
    for side in SIDES:
        for each in contradictions(form.ear(side)):
            one, other = _label(each.row.field), _label(each.row.other)
            says = f"{side.capitalize()}: “{other}” and “{one}” cannot both be so."
            found.append(Wrong(side, (each.row.field, each.row.other), says, each.row.instead))
    return tuple(found)


def _label(name: str) -> str:
    row = BY_NAME.get(name) or next((f for f in FIELDS if name in f.covers), None)
    return row.label if row else name.replace("_", " ")
