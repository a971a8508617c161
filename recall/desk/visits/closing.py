"""Closing a visit: what it asks for is shown, accepted, and stored with its findings.

A visit is never edited. A correction is a new row that cites the old one; a void leaves the
row and its reason. Each folds the person again in the same transaction, so that the lists are
right at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import msgspec
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.care.case import URGENCIES, Case, Category, To, Visit
from recall.care.casefile import check_visit, decode_visit
from recall.care.ear import SIDES, Side
from recall.desk.core.acting import Act, Next, row_of
from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.replanning import decided_by_people
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.visits.drafts import Closed, Draft
from recall.desk.visits.emergencies import keep_arranged
from recall.desk.visits.questions import questions
from recall.desk.visits.rows import as_case, decision_row, keep_appointment, store_visit
from recall.errors import Conflict, InputError, NotFound, Refused
from recall.records import tables
from recall.records.facts.cases import case_for, stands
from recall.records.tables.statements import whole
from recall.schedule.plan import Decision, Plan
from recall.schedule.planning import plan

WAITS = (
    "It waits for a clinician to confirm its plan (recall confirm), and no letter goes out before. "
    "What is an emergency or urgent stands, and is acted on now."
)


@needs(Right.LOOK)
def draft(
    desk: Desk,
    person: str,
    visit: Visit,
    category: Category | None = None,
    notes: str = "",
    *,
    ears: Sequence[Side] = (),
    ref: str | None = None,
    corrects: int | None = None,
    category_why: str = "",
) -> Draft:
    """Return what closing a visit would come to; nothing is stored.

    Args:
        desk: who acts, on which day.
        person: the practice's own reference.
        visit: as in a case file.
        category: what the practitioner sets; it may stand alone, without findings.
        notes: free words, which are searched for signs that press.
        ears: the ears that a category alone is about; both where left out.
        ref: the practice's own reference of the visit.
        corrects: the number of the visit that this one takes the place of.
        category_why: why it is another category than the findings suggest.

    Raises:
        NotFound: no such person.
        InputError: the visit says what cannot be true, or asks for nothing at all.
    """
    with desk.store.read() as session:
        row = person_row(session, person)
        case = case_for(session, row.id)
        decided = decided_by_people(session, [row.id]).get(row.id, ())
        old = _old_visit(session, corrects)
        state = _state(session, row.id)
    _refuse_empty(visit, category, desk)
    check_visit(visit, row.born)
    history = _without(case, old)
    made = _plan(desk, history, visit, _with_category(decided, visit, category, ears))
    return Draft(
        person_id=row.id,
        reference=row.ref,
        visit=visit,
        category=category,
        ears=tuple(ears),
        note=notes.strip(),
        ref=ref,
        plan=made,
        questions=questions(history, visit, notes),
        suggested=_suggested(made, visit),
        state=state,
        corrects=corrects,
        category_why=category_why.strip(),
    )


@needs(Right.TYPE_VISITS)
def close_visit(
    desk: Desk,
    given: Draft,
    changes: Sequence[Decision] = (),
    *,
    acknowledged: bool = False,
    acknowledged_by: str = "",
    arranged_with: str = "",
) -> Closed:
    """Store a visit that was looked at; the person is planned again in the same transaction.

    Args:
        desk: who acts, on which day.
        given: the draft, as it was shown.
        changes: dates moved or asks closed by a practitioner who may decide, each with a reason.
        acknowledged: whoever closes it looked at every question.
        acknowledged_by: the name that was typed to take note of what presses; it is kept.
        arranged_with: with whom an emergency was arranged by phone; it is kept.

    Raises:
        Conflict: somebody else changed this person meanwhile.
        Refused: a question was not looked at, nobody is named with whom an emergency was
            arranged, or whoever acts may not change the plan.
    """
    if given.questions and not acknowledged:
        first = given.questions[0].says
        raise Refused(f"Not closed: {first}", hint="Look again, then say that you did.")
    _refuse_changes(desk, changes)
    with desk.store.write() as session:
        if _state(session, given.person_id) != given.state:
            raise Conflict(
                f"Somebody else changed person {given.reference} meanwhile.",
                hint="Look at the plan again, then close the visit.",
            )
        act = Act(desk, session, given.person_id)
        if given.corrects is not None:
            act.void("visit", given.corrects, "Corrected.")
        number = store_visit(act, given)
        for change in changes:
            act.add("decision", **decision_row(given.person_id, change))
        if name := acknowledged_by.strip():
            act.note(f"What presses was acknowledged by {name}.", "visit", number)
        keep_appointment(act, given.person_id, given.visit.on, number)
        words = f"Visit #{number} of {given.reference} is closed."
        done = act.finish("visit", words, refold=True, made=number)
        keep_arranged(desk, session, given.person_id, given.visit.on, arranged_with.strip())
    said = done.words if desk.by.may_decide else f"{done.words} {WAITS}"
    return Closed(number, said, given.plan)


@needs(Right.TYPE_VISITS)
def correct_visit(
    desk: Desk,
    visit_id: int,
    visit: Visit,
    *,
    acknowledged: bool = False,
    arranged_with: str = "",
    **more: Any,
) -> Closed:
    """Put a visit right: a new row takes the old one's place, and the person is planned again.

    `more` is what `draft` takes: category, notes, ears; what is left out stays as it was.

    Raises:
        NotFound: no such visit.
        Refused: a question was not looked at, or it is somebody else's visit.
    """
    given = correction(desk, visit_id, visit, **more)
    return close_visit(desk, given, acknowledged=acknowledged, arranged_with=arranged_with)


@needs(Right.LOOK)
def correction(desk: Desk, visit_id: int, visit: Visit, **more: Any) -> Draft:
    """Return what putting a visit right would come to."""
    with desk.store.read() as session:
        old = row_of(session, tables.Visit, visit_id)
        _refuse_others(desk, old)
        person = row_of(session, tables.Person, old.person_id)
        examiner = as_case(session, old).examiner
    if visit.examiner is None:
        visit = msgspec.structs.replace(visit, examiner=examiner)
    kept = {
        "category": old.category,
        "ears": old.category_ears,
        "notes": old.note,
        "ref": old.ref,
    }
    return draft(desk, person.ref, visit, corrects=visit_id, **{**kept, **more})


@needs(Right.TYPE_VISITS)
def void_visit(desk: Desk, visit_id: int, why: str) -> Next:
    """Void a visit that should not be there; the person is planned again.

    Raises:
        InputError: no reason.
        NotFound: no such visit.
        Refused: it is somebody else's visit, and whoever acts may not decide.
    """
    if not why.strip():
        raise InputError("A visit is not voided without a reason.", hint="Add --why.")
    with desk.store.write() as session:
        old = row_of(session, tables.Visit, visit_id)
        _refuse_others(desk, old)
        act = Act(desk, session, old.person_id)
        act.void("visit", visit_id, why.strip())
        return act.finish("visit_voided", f"Visit #{visit_id} is voided.", refold=True)


@needs(Right.LOOK)
def read_visit(desk: Desk, person: str, data: bytes, on: date) -> Visit:
    """Return the visit in a piece of a case file; where it has no day, `on` is meant.

    Raises:
        NotFound: no such person.
        InputError: it is no visit, or says what cannot be true; with its path.
    """
    with desk.store.read() as session:
        born = person_row(session, person).born
    try:
        raw = msgspec.json.decode(data)
    except (msgspec.DecodeError, UnicodeDecodeError):
        raw = None  # the decoder below says what is wrong
    if isinstance(raw, dict) and "on" not in raw:
        data = msgspec.json.encode({"on": on, **raw})
    return decode_visit(data, born)


@needs(Right.LOOK)
def find_visit(desk: Desk, text: str) -> tuple[int, Visit, str]:
    """Return a visit's number, what it says, and whose it is; by reference or as #number.

    Raises:
        NotFound: no such visit.
    """
    c = tables.Visit
    wanted = select(whole(tables.Visit)).where(stands(tables.Visit))
    number = text.removeprefix("#")
    with desk.store.read() as session:
        row = session.scalars(wanted.where(c.ref == text)).one_or_none()
        if row is None and number.isdigit():
            by_number = wanted.where(c.id == int(number))
            row = session.scalars(by_number).one_or_none()
        if row is None:
            raise NotFound(
                f"There is no visit {text}.", hint="Give its reference, or #number of the visit."
            )
        person = row_of(session, tables.Person, row.person_id)
        return row.id, as_case(session, row), person.ref


def _refuse_empty(visit: Visit, category: Category | None, desk: Desk) -> None:
    if visit.on > desk.today:
        raise InputError(f"on: {visit.on} is after today.", hint="Correct the day of the visit.")
    if category is None and visit.right is None and visit.left is None and not visit.reported:
        raise InputError(
            "The visit has neither findings nor a category.",
            hint="Give what was seen, or what is to follow (--category).",
        )


def _refuse_changes(desk: Desk, changes: Sequence[Decision]) -> None:
    if not changes:
        return
    desk.require(Right.DECIDE)
    if any(not change.why.strip() for change in changes):
        raise InputError("A date is not changed without a reason.", hint="Say why.")


def _refuse_others(desk: Desk, old: tables.Visit) -> None:
    """Leave another's visit to those who may decide."""
    mine = desk.by.id in (old.by_id, old.examiner_id)
    if not mine:
        desk.require(Right.DECIDE)


def _state(session: Session, person_id: int) -> tuple[int, int]:
    """Return what changes whenever anything of a person's history does."""
    c = tables.History
    wanted = select(func.count(), func.max(c.id)).where(c.person_id == person_id)
    count, last = session.execute(wanted).one()
    return count, last or 0


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
    decided: Sequence[Decision], visit: Visit, category: Category | None, ears: Sequence[Side]
) -> tuple[Decision, ...]:
    """Return the decisions with what a category alone would ask for."""
    if category is None or visit.right is not None or visit.left is not None:
        return tuple(decided)
    to: To | None = "ent" if category == "refer" else None
    asked = [
        Decision(on=visit.on, ear=side, action="ask", category=category, to=to)
        for side in ears or SIDES
    ]
    return tuple(sorted((*decided, *asked), key=lambda d: d.on))


def _plan(desk: Desk, case: Case, visit: Visit, decisions: Sequence[Decision]) -> Plan:
    visits = sorted((*case.visits, visit), key=lambda v: v.on)
    return plan(
        msgspec.structs.replace(case, visits=tuple(visits)),
        desk.protocol,
        max(desk.today, visits[-1].on),
        calendar=desk.calendar,
        decisions=tuple(decisions),
        population=desk.populations,
    )


def _suggested(made: Plan, visit: Visit) -> Category | None:
    """Return the category that stands for what this visit asks: referring comes first."""
    if any(r.asked_on == visit.on for r in made.referrals):
        return "refer"
    dues = [d for f in made.follow_ups for d in f.dues if d.asked_on == visit.on]
    if not dues:
        return "come_back_if"
    first = min(dues, key=lambda d: (URGENCIES.index(d.urgency), d.latest))
    return first.category
