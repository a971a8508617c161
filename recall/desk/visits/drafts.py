"""A visit before and after it is closed, as the edges see it."""

from __future__ import annotations

from dataclasses import dataclass

from recall.care.case import Category, Visit
from recall.care.ear import Side
from recall.desk.visits.questions import Question
from recall.schedule.plan import Plan


@dataclass(frozen=True)
class Draft:
    """A visit before it is closed: what it would leave open, and what to look at again."""

    person_id: int
    reference: str
    visit: Visit
    category: Category | None
    ears: tuple[Side, ...]
    """The ears that a category alone is about."""
    note: str
    ref: str | None
    """The practice's own reference of the visit."""
    plan: Plan
    questions: tuple[Question, ...]
    suggested: Category | None
    """The category of the most pressing thing that this visit asks for."""
    state: tuple[int, int]
    """What of the person was looked at, to notice when somebody else changed it."""
    corrects: int | None = None
    category_why: str = ""
    """Why it is another category than the findings suggest."""


@dataclass(frozen=True)
class Closed:
    """A visit that was closed, and what happens next."""

    visit_id: int
    words: str
    plan: Plan
