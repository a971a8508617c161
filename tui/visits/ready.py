"""A visit made ready to be closed: its draft, its plan with all that was set by hand, its notes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import msgspec

from recall.care.case import Visit
from recall.schedule.fallen import why_fallen
from recall.schedule.plan import Decision, Plan
from recall.schedule.plan_lines import Judgement, Line, lines_of
from tui.ears.form import VisitForm
from tui.visits import judging
from tui.words.text import full_day

if TYPE_CHECKING:
    from recall.desk.core.session import Desk, StaffRow
    from recall.desk.people.ear_history import EarHistory
    from recall.desk.visits.drafts import Draft

NOTES = 2
"""So many notes are shown before a visit is closed; the others are in the person's story."""


@dataclass(frozen=True)
class Ready:
    """A visit that can be closed: its draft, what was changed by hand, and who would close it."""

    draft: Draft
    plan: Plan
    """With what was changed by hand."""
    changes: tuple[Decision, ...]
    handle: str
    name: str
    may_have_examined: tuple[StaffRow, ...] = ()
    """Between whom it is asked; nobody where it is known."""
    judged: tuple[tuple[str, Judgement], ...] = ()
    """Lines of the draft's plan by name, and what was made of each."""
    before: tuple[Line, ...] = ()
    """What was open before this visit."""
    fallen: tuple[tuple[str, str], ...] = ()
    """Of each of those lines, why it stands no more, where it does not."""
    arranged: tuple[str, ...] = ()
    """Services with whom an emergency of this day was arranged already."""
    still_needed: tuple[str, ...] = ()
    """Referrals by name that stand although their reason is gone."""
    notes: tuple[str, ...] = ()
    """What to know before contact, and what was written down last about the person."""
    milder_why: str = ""
    """Why a correction may drop or lower what pressed."""


def make_ready(desk: Desk, known: EarHistory, form: VisitForm) -> Ready:
    """Return what closing would come to; nothing is stored."""
    from recall.desk.people.ear_history import planned, whole_story, without
    from recall.desk.visits.drafting import draft
    from recall.desk.visits.drafts import VisitNote
    from recall.desk.visits.emergencies import arranged

    visit, may_have = _examined(desk, form)
    note = VisitNote(
        category=form.category,
        category_why=form.category_why,
        ears=form.category_ears,
        words=form.note,
        for_letters=form.letter_words,
        corrects=form.corrects,
    )
    given = draft(desk, known.ref, visit, note)
    changes = changes_of(form, given.plan)
    known = without(known, form.corrects)
    plan, _ = plan_with_judged(desk, known, visit, form)
    judged = tuple((line.name, made) for line, made in judging.in_force(form, given.plan))
    before = lines_of(planned(desk, known, None))
    found = Ready(given, plan, changes, desk.by.handle, desk.by.name, may_have, judged, before)
    spoken = arranged(desk, known.ref, visit.on)
    story = whole_story(desk, known, visit, changes)
    fallen = tuple((line.name, why_fallen(line, story, visit.on)) for line in before)
    return replace(found, notes=_notes(desk, known.ref), arranged=spoken, fallen=fallen)


def _notes(desk: Desk, ref: str) -> tuple[str, ...]:
    """Return what was written down about a person, as it is read before a visit is closed."""
    from recall.desk.people.person_card import person

    card = person(desk, ref)
    known = [f"Before contact: {card.caller_note}"] if card.caller_note else []
    return (*known, *(f"Note, {full_day(n.on)}: {n.words}" for n in card.notes[:NOTES]))


def plan_with_judged(
    desk: Desk, known: EarHistory, visit: Visit | None, form: VisitForm
) -> tuple[Plan, list[str]]:
    """Return the plan with everything that was set by hand, and in words what was judged."""
    from recall.desk.people.ear_history import planned

    changes = preview_changes(form)
    made = planned(desk, known, visit, changes)
    judged = judging.decisions(form, made)
    if not judged:
        return made, []
    return planned(desk, known, visit, (*changes, *judged)), judging.judged_marked(form, made)


def _examined(desk: Desk, form: VisitForm) -> tuple[Visit, tuple[StaffRow, ...]]:
    """Return the visit with who examined, and between whom that is to be asked."""
    from recall.desk.visits.examining import examined

    if form.corrects is not None:
        return form.visit, ()
    found = examined(desk, form.examiner)
    return msgspec.structs.replace(form.visit, examiner=found.by), found.ask


def preview_changes(form: VisitForm) -> tuple[Decision, ...]:
    """Return everything set by hand, for the plan as one types."""
    return (*form.asks, *form.moves)


def changes_of(form: VisitForm, plan: Plan) -> tuple[Decision, ...]:
    """Return what is stored beside the visit: moves of dues that are there, and an ask by hand.

    A kind of follow-up without findings is stored with the visit itself.
    """
    asked = form.asks if form.has_findings else ()
    there = {(d.ear, d.track, d.kind) for f in plan.follow_ups for d in f.dues}
    return (*asked, *(m for m in form.moves if (m.ear, m.track, m.kind) in there or asked))
