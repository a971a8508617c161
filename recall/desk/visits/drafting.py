"""What closing a visit would come to, shown before anything is stored."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import msgspec
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.care.case import URGENCIES, Case, Category, To, Visit
from recall.care.casefile import check_visit
from recall.care.ear import SIDES, Side
from recall.desk.core.acting import row_of
from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.replanning import decided_by_people
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.visits.drafts import NO_NOTE, Draft, VisitNote
from recall.desk.visits.letters_sent import sent_already
from recall.desk.visits.questions import questions
from recall.desk.visits.rows import as_case
from recall.desk.visits.stable_course import offers
from recall.errors import InputError
from recall.records import tables
from recall.records.facts.cases import case_for, stands
from recall.records.tables.statements import many
from recall.schedule.fold import folding
from recall.schedule.groundless import groundless
from recall.schedule.milder import milder
from recall.schedule.plan import Decision, Plan
from recall.schedule.plan_lines import Line, lines_of
from recall.schedule.planning import plan

STILL_NEEDED = "still_needed"
"""What is noted of a referral that stands although its reason is gone."""


@needs(Right.LOOK)
def draft(desk: Desk, person: str, visit: Visit, note: VisitNote = NO_NOTE) -> Draft:
    """Return what closing a visit of a person would come to; nothing is stored.

    Raises:
        NotFound: no such person.
        InputError: the visit says what cannot be true, or asks for nothing at all.
    """
    with desk.store.read() as session:
        row = person_row(session, person)
        case = case_for(session, row.id)
        decided = decided_by_people(session, [row.id]).get(row.id, ())
        old = _old_visit(session, note.corrects)
        state = history_state(session, row.id)
        kept = still_needed(session, row.id)
    _refuse_empty(desk, visit, note.category)
    check_visit(visit, row.born)
    history = _without(case, old)
    decisions = _with_category(decided, visit, note)
    made = _plan(desk, history, visit, decisions)
    gone = _gone(desk, with_visit(history, visit), decisions)
    with desk.store.read() as session:
        offered = offers(session, made, visit.on)
        sent = sent_already(session, note.corrects)
    return Draft(
        person_id=row.id,
        reference=row.ref,
        born=row.born,
        visit=visit,
        note=note,
        plan=made,
        questions=questions(history, visit, note.words or "", old),
        suggested=_suggested(made, visit),
        state=state,
        groundless=_groundless(made, gone, kept),
        offers=offered,
        sent=sent,
        milder=milder(plan_of(desk, case, decided), made) if old is not None else (),
    )


@needs(Right.LOOK)
def correction(desk: Desk, visit_id: int, visit: Visit, note: VisitNote = NO_NOTE) -> Draft:
    """Return what putting a visit right would come to; what is left out stays as it was."""
    with desk.store.read() as session:
        old = row_of(session, tables.Visit, visit_id)
        refuse_others(old, desk)
        person = row_of(session, tables.Person, old.person_id)
        examiner = as_case(session, old).examiner
    if visit.examiner is None:
        visit = msgspec.structs.replace(visit, examiner=examiner)
    kept = VisitNote(
        category=note.category or old.category,
        category_why=note.category_why,
        ears=note.ears or old.category_ears,
        words=old.note if note.words is None else note.words,
        ref=note.ref or old.ref,
        corrects=visit_id,
    )
    return draft(desk, person.ref, visit, kept)


def refuse_others(old: tables.Visit, desk: Desk) -> None:
    """Leave another's visit to those who may decide."""
    mine = desk.by.id in (old.by_id, old.examiner_id)
    if not mine:
        desk.require(Right.DECIDE)


def history_state(session: Session, person_id: int) -> tuple[int, int]:
    """Return what changes whenever anything of a person's history does."""
    c = tables.History
    wanted = select(func.count(), func.max(c.id)).where(c.person_id == person_id)
    count, last = session.execute(wanted).one()
    return count, last or 0


def still_needed(session: Session, person_id: int) -> set[tuple[To, date]]:
    """Return the referrals, by service and day, that somebody wants though their reason is gone."""
    r, e = tables.Referral, tables.ReferralEvent
    wanted = (
        select(r.to, r.asked_on)
        .join_from(r, e, e.referral_id == r.id)
        .where(r.person_id == person_id, e.what == STILL_NEEDED, stands(e))
    )
    return {(to, asked_on) for to, asked_on in many(session, wanted)}


Gone = set[tuple[To, date, Side]]


def _gone(desk: Desk, case: Case, decisions: Sequence[Decision]) -> Gone:
    """Return the referrals, ear by ear, whose reason the last visit found gone."""
    on = max(desk.today, case.visits[-1].on)
    state = folding(case, desk.protocol, on, decisions=decisions, population=desk.populations)
    return {(r.to, r.asked_on, ear) for r in groundless(state) for ear in r.ears}


def _groundless(made: Plan, gone: Gone, kept: set[tuple[To, date]]) -> tuple[Line, ...]:
    """Return the lines of referrals whose reason is gone in every ear, and not asked about yet.

    An emergency is never among them.
    """
    return tuple(
        line
        for line in lines_of(made)
        if (r := line.referral) is not None
        and r.urgency != "emergency"
        and (r.to, r.asked_on) not in kept
        and all((r.to, r.asked_on, ear) in gone for ear in r.ears)
    )


def _refuse_empty(desk: Desk, visit: Visit, category: Category | None) -> None:
    if visit.on > desk.today:
        raise InputError(f"on: {visit.on} is after today.", hint="Correct the day of the visit.")
    if category is None and visit.right is None and visit.left is None and not visit.reported:
        raise InputError(
            "The visit has neither findings nor a category.",
            hint="Give what was seen, or what is to follow (--category).",
        )


def _old_visit(session: Session, number: int | None) -> Visit | None:
    if number is None:
        return None
    return as_case(session, row_of(session, tables.Visit, number))


def _without(case: Case, old: Visit | None) -> Case:
    """Return a history without the visit that is being put right."""
    if old is None:
        return case
    left = list(case.visits)
    same = [v for v in left if (v.on, v.right, v.left) == (old.on, old.right, old.left)]
    if same:
        left.remove(same[0])
    return msgspec.structs.replace(case, visits=tuple(left))


def _with_category(
    decided: Sequence[Decision], visit: Visit, note: VisitNote
) -> tuple[Decision, ...]:
    """Return the decisions with what a category alone would ask for."""
    category = note.category
    if category is None or visit.right is not None or visit.left is not None:
        return tuple(decided)
    to: To | None = "ent" if category == "refer" else None
    asked = [
        Decision(on=visit.on, ear=side, action="ask", category=category, to=to)
        for side in note.ears or SIDES
    ]
    return tuple(sorted((*decided, *asked), key=lambda d: d.on))


@needs(Right.LOOK)
def plan_of(desk: Desk, case: Case, decisions: Sequence[Decision]) -> Plan:
    """Return what stands for a history today."""
    return plan(
        case,
        desk.protocol,
        desk.today,
        calendar=desk.calendar,
        decisions=tuple(decisions),
        population=desk.populations,
    )


def without_visit(case: Case, old: Visit) -> Case:
    """Return a history without a visit that is to be voided."""
    return _without(case, old)


def with_visit(case: Case, visit: Visit) -> Case:
    """Return a history with one more visit, in the order of days."""
    visits = sorted((*case.visits, visit), key=lambda v: v.on)
    return msgspec.structs.replace(case, visits=tuple(visits))


def _plan(desk: Desk, case: Case, visit: Visit, decisions: Sequence[Decision]) -> Plan:
    whole = with_visit(case, visit)
    return plan(
        whole,
        desk.protocol,
        max(desk.today, whole.visits[-1].on),
        calendar=desk.calendar,
        decisions=tuple(decisions),
        population=desk.populations,
    )


def _suggested(made: Plan, visit: Visit) -> Category | None:
    """Return the category that stands for what this visit asks: referring comes first.

    Where it asks for nothing, but something dated stands, none does.
    """
    if any(r.asked_on == visit.on for r in made.referrals):
        return "refer"
    dues = [d for f in made.follow_ups for d in f.dues if d.asked_on == visit.on]
    if not dues:
        return None if made.follow_ups or made.referrals else "come_back_if"
    first = min(dues, key=lambda d: (URGENCIES.index(d.urgency), d.latest))
    return first.category
