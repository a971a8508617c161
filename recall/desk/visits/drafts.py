"""A visit before and after it is closed, as the edges see it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from recall.care.case import Category, Visit
from recall.care.ear import Side
from recall.desk.visits.questions import Question
from recall.schedule.milder import Milder
from recall.schedule.plan import Decision, Plan
from recall.schedule.plan_lines import Judgement, Line


@dataclass(frozen=True, slots=True)
class VisitNote:
    """What is written beside the findings of a visit."""

    category: Category | None = None
    """The kind of follow-up that is set; it may stand alone, without findings."""
    category_why: str = ""
    """Why it is another than the findings suggest."""
    ears: tuple[Side, ...] = ()
    """The ears that a category alone is about; both where left out."""
    words: str | None = None
    """Free words, which are searched for signs that press."""
    for_letters: str = ""
    """The clinician's words for the letters of what this visit refers."""
    ref: str | None = None
    """The practice's own reference of the visit."""
    corrects: int | None = None
    """The number of the visit that this one takes the place of."""


NO_NOTE = VisitNote()


@dataclass(frozen=True, slots=True)
class Draft:
    """A visit before it is closed: what it would leave open, and what to look at again."""

    person_id: int
    reference: str
    born: date
    visit: Visit
    note: VisitNote
    plan: Plan
    questions: tuple[Question, ...]
    suggested: Category | None
    """The category of the most pressing thing that this visit asks for."""
    state: tuple[int, int]
    """What of the person was looked at, to notice when somebody else changed it."""
    milder: tuple[Milder, ...] = ()
    """What pressed, and this correction drops or lowers."""
    groundless: tuple[Line, ...] = ()
    """Referrals whose reason this visit shows to be gone, and about which nobody was asked."""
    sent: tuple[str, ...] = ()
    """What others were told already of the visit that this one puts right."""
    offers: tuple[str, ...] = ()
    """Where *come back if* may be offered instead of a look, with what this register knows."""


@dataclass(frozen=True, slots=True)
class Acceptance:
    """What whoever closes a visit answered when its draft was shown."""

    looked: bool = False
    """Every question was looked at."""
    acknowledged_by: str = ""
    """The name that was typed to take note of what presses; it is kept."""
    arranged_with: str = ""
    """With whom an emergency was arranged by phone; it is kept."""
    changes: tuple[Decision, ...] = ()
    """Dates moved or asks closed by a practitioner who may decide, each with a reason."""
    milder_why: str = ""
    """Why a correction may drop or lower what pressed; it is kept for a second person to see."""
    still_needed: tuple[str, ...] = ()
    """Referrals by name that stand although their reason is gone; nobody is asked again."""
    judged: tuple[tuple[str, Judgement], ...] = ()
    """Lines of the plan by name, and what somebody who may decide makes of each."""


AS_SHOWN = Acceptance()


@dataclass(frozen=True, slots=True)
class Closed:
    """A visit that was closed, and what happens next."""

    visit_id: int
    words: str
    plan: Plan
