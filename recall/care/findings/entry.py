"""What is known of one finding besides its type: the form of an entry in the catalogue.

The entries stand in the other modules of `care.findings`, each beside the type of its field;
`care.catalogue` reads them.
Everything that names findings (the words of rules, contradictions, columns, the visit form,
letters, questions, what a look answers) is derived from there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Literal, NamedTuple

Values = tuple[Any, ...]
EVERY: Values = ("every value",)
"""Stands for whatever was recorded."""
Kind = Literal["scale", "names", "flag", ""]
View = Literal["", "canal", "drum", "attic"]
Look = Literal[
    "", "wax", "fluid", "tensa", "attic", "hole", "canal", "grommet", "cavity", "hearing", "trace",
    "drum",
]  # fmt: skip
Holds = Literal["words", "levels", "trace", "when", "count"]


class Never(NamedTuple):
    """While the finding is one of `values`, `other` may not be one of `refused`."""

    values: Values
    other: str
    refused: Values
    """None in it: not recorded is refused too."""
    instead: str


class Stays(NamedTuple):
    """A finding that stays on its side from one visit to the next."""

    words: str
    values: Values


class Caution(NamedTuple):
    """What whoever treats the ear next must know, while it was last found not normal."""

    because: str
    no_water: bool = True
    """Whether it must not be irrigated; otherwise it asks for more care."""
    ever: bool = False
    """Whether it holds for good once found, whatever was recorded later."""


class Noted(NamedTuple):
    """How a finding is written in a note: a pattern, and the words to ask about it with."""

    pattern: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One entry. Its first three fields are read off the type by the catalogue."""

    name: str = ""
    holds: Holds = "words"
    values: Values = ()
    """Every value in the order of its type; empty for what is measured or dated."""

    kind: Kind = ""
    """How a rule may ask for it: "or worse", by name, recorded true; or only by a sign."""
    circumstance: bool = False
    """Says how it was looked at or treated, or what was told: nothing that a look finds."""
    of_day: bool = False
    """About the day and not about the ear: the wax that lay there, and what it hid of the view."""
    normal: Any = None
    """What a healthy ear shows; None where no value is that."""
    steps: tuple[str, ...] = ()
    """A scale's steps, mildest first, where they are not the values of its type."""
    signs: Mapping[str, Values] = field(default_factory=dict)
    """Words of rules that some of its values make: the word, and which values."""

    look: Look = ""
    """The look at the ear that it is a part of; `schedule.answering` says which track needs it."""
    clear: Values = ()
    """Values that show what its look is about to be gone; empty: the normal one."""
    of_drum: Values = ()
    """Values that need at least a part of the drum in view."""
    of_ear: Values = ()
    """Values that need somebody to look into the ear; empty: as `of_drum`."""
    clear_in: View = ""
    """What must have been in view to call it normal; "": a shortcut never does."""
    never: tuple[Never, ...] = ()
    """What cannot be true beside it."""

    means: str = ""
    """What is recorded, in one line, with its unit: the schema of the case file says it."""
    label: str = ""
    """On the visit form; none where the row of another finding holds it."""
    usual: int = 0
    """Its place among the rows that a usual visit needs; 0: further down."""
    says: tuple[str, ...] = ()
    """The answers of the form, normal first, where they are not the values themselves."""
    answers: tuple[tuple[str, Mapping[str, Any]], ...] = ()
    """The answers of a row that writes several findings."""
    hint: str = ""
    """How it is typed, where it is not one digit and its kind does not say so."""

    letter: str = ""
    """Its name in letters and on cards, where it is not the field's own."""
    plain: str = ""
    """In words for the person, where it is not normal; empty: not told on their sheet, for a
    reason that the tests know."""
    told: bool = False
    """Whether letters tell it in full where it is normal, too."""
    column: str = ""
    """What its columns of a file begin with, where it has one for each frequency."""
    stays: Stays | None = None
    noted: tuple[Noted, ...] = ()
    caution: Caution | None = None

    @property
    def worse(self) -> Values:
        """Return the values that a healthy ear does not show."""
        return tuple(v for v in self.values if not self.is_normal(v))

    @property
    def shows_clear(self) -> Values:
        """Return the values that show what its look is about to be gone."""
        return self.clear or (self.normal,)

    @property
    def is_flag(self) -> bool:
        """Return whether it is recorded as yes or no."""
        return bool(self.values) and all(isinstance(v, bool) for v in self.values)

    def is_normal(self, value: Any) -> bool:
        """Return whether a value is what a healthy ear shows; 0 is a grade, never a no."""
        return self.normal is not None and type(value) is type(self.normal) and value == self.normal


scale = partial(Finding, kind="scale")
"""An ordered finding: a rule asks for a value "or worse"."""
names = partial(Finding, kind="names")
"""A finding of which a rule names the values that it means."""
flag = partial(Finding, kind="flag", normal=False)
"""A sign that is there or not."""
