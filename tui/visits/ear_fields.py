"""The fields of the visit form: in which order, and which digit writes which answer.

One rule holds everywhere: 0 is what a healthy ear shows, higher is further from it. So a row of
zeros is a healthy ear, and nobody has to learn a letter for each answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from recall.care.ear import Ear

Kind = Literal["answers", "levels", "trace", "when", "count"]
View = Literal["", "canal", "drum", "attic"]
"""What must have been in view to call a finding normal; "" is never written by a shortcut."""


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
    kind: Kind = "answers"
    answers: tuple[Answer, ...] = ()
    view: View = ""
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


def _choice(
    name: str, label: str, words: str, view: View = "", *, first: int = 0, values: str = ""
) -> Field:
    """Return a field with a digit for each of its words, counted from `first`."""
    said = words.split("/")
    meant: list[Any] = values.split("/") if values else [w.replace(" ", "_") for w in said]
    answers = [
        Answer(str(n), word, {name: value})
        for n, (word, value) in enumerate(zip(said, meant, strict=True), first)
    ]
    return Field(name, label, answers=tuple(answers), view=view)


def _yes(name: str, label: str, view: View = "", words: str = "no/yes") -> Field:
    no, yes = words.split("/")
    answers = (Answer("0", no, {name: False}), Answer("1", yes, {name: True}))
    return Field(name, label, answers=answers, view=view)


def _healthy(name: str, label: str, words: str, view: View = "") -> Field:
    """Return a field where a healthy ear is the one with the yes."""
    yes, no = words.split("/")
    answers = (Answer("0", yes, {name: True}), Answer("1", no, {name: False}))
    return Field(name, label, answers=answers, view=view)


def _grade(name: str, label: str, view: View) -> Field:
    answers = tuple(Answer(str(n), f"grade {n}", {name: n}) for n in range(5))
    return Field(name, label, answers=answers, view=view)


_NOT_EXAMINED = Field(
    "examined",
    "Looked into",
    answers=(
        Answer("0", "yes", {"examined": True, "not_examined": None}),
        Answer("1", "refused", {"examined": False, "not_examined": "refused"}),
        Answer("2", "not tried", {"examined": False, "not_examined": "not_attempted"}),
        Answer("3", "no", {"examined": False, "not_examined": None}),
    ),
)
_WHEN = "a day, a month as 2026-08, or 6w, 3m, 2y before"
_LEVELS = "500, 1000, 2000 and 4000 Hz: 15 15 20 25; nr for no response; others as 3000=40"
_TRACE = "A, As, Ad, B, C1 or C2; or flat 1.2 (volume); or -150 0.4 1.1 (peak, ml, volume)"

FIELDS: tuple[Field, ...] = (
    _choice("wax_found", "Wax found", "none/some/partial/occluding"),
    _choice("clearance", "Clearing", "cleared/failed/not attempted"),
    _choice("wax_left", "Wax left", "none/some/partial/occluding"),
    _choice("drum_seen", "Drum seen", "whole/part/not", values="full/part/none"),
    _healthy("attic_seen", "Attic", "seen/not seen"),
    _choice("effusion", "Fluid", "absent/suspected/present", "drum"),
    _grade("tensa_grade", "Tensa (Sadé)", "drum"),
    _grade("attic_grade", "Attic (Tos)", "attic"),
    _choice("perforation", "Hole in drum", "none/central/marginal/attic/healed", "drum"),
    _choice("discharge", "Discharge", "none/clear/purulent/blood", "canal"),
    _choice("canal_skin", "Canal skin", "normal/inflamed/fungal", "canal"),
    Field("hearing_dB", "Hearing dB", "levels", hint=_LEVELS),
    Field("tympanogram", "Tympanogram", "trace", hint=_TRACE),
    # What a usual visit has no need of.
    _NOT_EXAMINED,
    Field("clearance_tries", "Times tried", "count", hint="how often clearing was tried"),
    _choice("hearing_after", "Hears after", "better/same/worse"),
    _yes("red", "Red drum", "drum"),
    _yes("bulging", "Bulging drum", "drum"),
    _yes("bullae", "Bullae", "drum"),
    _healthy("tensa_mobile", "Tensa moves", "yes/fixed"),
    _healthy("pocket_base_seen", "Pocket's base", "seen/not seen"),
    _yes("keratin", "Keratin", "attic"),
    _yes("scutum_erosion", "Bone worn away", "attic"),
    _yes("attic_crust", "Attic crust", "attic"),
    _yes("granulation", "Granulation", "attic"),
    _yes("polyp", "Polyp", "attic"),
    _choice("mass_behind_drum", "Mass behind", "none/white/red", "drum"),
    _yes("blood_behind_drum", "Blood behind", "drum"),
    _yes("tympanosclerosis", "White patches"),
    _choice("perforation_cause", "Hole from", "trauma/infection/unknown", first=1),
    _yes("perforation_new", "Hole is new", words="no/new"),
    Field("discharge_since", "Runs since", "when", hint=_WHEN),
    _yes("canal_swollen_shut", "Swollen shut", "canal"),
    _yes("canal_narrow", "Narrow canal"),
    _yes("exostoses", "Exostoses"),
    _yes("cellulitis", "Cellulitis", "canal"),
    _yes("mastoid_swelling", "Mastoid swells"),
    _yes("pinna_lesion", "Pinna lesion"),
    _yes("treated", "Treated here"),
    _choice(
        "foreign_body",
        "Foreign body",
        "none/button battery/unidentified/other",
        "canal",
    ),
    _choice("grommet", "Grommet", "none/in place/blocked/in canal/gone", "drum"),
    Field("grommet_on", "Grommet since", "when", hint=_WHEN),
    _yes("grommet_long_term", "Long-term one"),
    _yes("cavity", "Open cavity"),
    _healthy("cavity_quiet", "Cavity is", "quiet/not quiet"),
    Field("hearing_aid_fitted_on", "Aid fitted", "when", hint=_WHEN),
    _choice("hearing_screen", "Screening", "passed/not passed/could not test"),
    Field("bone_dB", "Bone dB", "levels", hint=_LEVELS),
)
"""All rows, in the order in which one looks into an ear; the first 13 serve a usual visit."""
USUAL = 13
BY_NAME: dict[str, Field] = {field.name: field for field in FIELDS}


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
