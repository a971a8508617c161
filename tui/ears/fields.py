"""The fields of the visit form, made from the catalogue of findings: order, digits, answers.

One rule holds everywhere: 0 is what a healthy ear shows, higher is further from it. So a row of
zeros is a healthy ear, and nobody has to learn a letter for each answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from recall.care.catalogue import CATALOGUE
from recall.care.ear import Ear
from recall.care.findings.entry import Finding, Holds, View


@dataclass(frozen=True)
class Answer:
    """One answer to a field, with its digit and what it writes."""

    key: str
    words: str
    writes: Mapping[str, Any]

    def holds(self, ear: Ear) -> bool:
        """Return whether an ear says exactly this."""
        return all(getattr(ear, name) == value for name, value in self.writes.items())


@dataclass(frozen=True)
class Field:
    """One row of the form."""

    name: str
    label: str
    kind: Holds = "words"
    answers: tuple[Answer, ...] = ()
    view: View = ""
    """What must have been in view to call it normal; "" is never written by a shortcut."""
    hint: str = ""
    """How it is typed, where it is not one digit."""

    @property
    def covers(self) -> tuple[str, ...]:
        """Return the fields of the case file that this row holds."""
        written = {name for answer in self.answers for name in answer.writes}
        return tuple(written) or (self.name,)

    def answer_of(self, ear: Ear) -> Answer | None:
        """Return the answer that an ear holds, if any."""
        recorded = [a for a in self.answers if a.holds(ear)]
        return max(recorded, key=lambda a: len(a.writes), default=None)

    def answer_by(self, key: str) -> Answer | None:
        """Return the answer of a digit."""
        return next((a for a in self.answers if a.key == key), None)

    @property
    def normal(self) -> Answer | None:
        """Return what a healthy ear shows, where the field has such an answer."""
        return self.answer_by("0")


_WHEN = "a day, a month as 2026-08, or 6w, 3m, 2y before"
_LEVELS = "500, 1000, 2000, 4000 Hz: 15 15 20 25; nr no response; others 3000=40"
_TRACE = "A, As, Ad, B, C1, C2; flat 1.2 (volume); -150 0.4 1.1 (peak, ml, volume)"
_HINTS = {"when": _WHEN, "levels": _LEVELS, "trace": _TRACE}


def _words(value: Any) -> str:
    """Return the words of an answer to which the catalogue gives none."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"grade {value}" if isinstance(value, int) else str(value).replace("_", " ")


def _answers(finding: Finding) -> tuple[Answer, ...]:
    """Return an answer for each value: 0 is what a healthy ear shows, where it shows one."""
    if finding.answers:
        return tuple(Answer(str(n), *said) for n, said in enumerate(finding.answers))
    values = sorted(finding.values, key=lambda value: not finding.is_normal(value))
    said = finding.says or tuple(_words(value) for value in values)
    first = 1 if finding.normal is None else 0
    return tuple(
        Answer(str(n), words, {finding.name: value})
        for n, (words, value) in enumerate(zip(said, values, strict=True), first)
    )


def _field(finding: Finding) -> Field:
    if finding.holds == "words":
        view = finding.clear_in
        return Field(finding.name, finding.label, answers=_answers(finding), view=view)
    hint = finding.hint or _HINTS[finding.holds]
    return Field(finding.name, finding.label, finding.holds, hint=hint)


_ROWS = [finding for finding in CATALOGUE.values() if finding.label]
_FIRST = sorted((f for f in _ROWS if f.usual), key=lambda finding: finding.usual)
FIELDS: tuple[Field, ...] = tuple(_field(f) for f in (*_FIRST, *(f for f in _ROWS if not f.usual)))
"""All rows, in the order in which one looks into an ear; the first serve a usual visit."""
USUAL = len(_FIRST)
BY_NAME: dict[str, Field] = {field.name: field for field in FIELDS}


def leads_past(typed: Field, ear: Ear, to: Field) -> bool:
    """Return whether a finding is passed over by what was just typed.

    Where no wax was found, nothing was there to be cleared or left.
    """
    return (
        typed.name == "wax_found" and ear.wax_found == "none" and CATALOGUE[to.name].look == "wax"
    )


def words_of(name: str, value: Any) -> str:
    """Return one recorded value in the words of the form.

    >>> words_of("effusion", "present"), words_of("drum_seen", "full")
    ('present', 'whole')
    """
    field = BY_NAME.get(name)
    for answer in field.answers if field else ():
        if answer.writes.get(name) == value:
            return answer.words
    return str(value).replace("_", " ")
