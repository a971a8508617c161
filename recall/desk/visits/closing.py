"""Closing a visit: what it asks for was shown, is accepted, and is stored with its findings.

A visit is never edited. A correction is a new row that cites the old one; a void leaves the
row and its reason. Each folds the person again in the same transaction, so that the lists are
right at once.
"""

from __future__ import annotations

from collections.abc import Sequence

from recall.desk.core.acting import Act, Next, in_words, row_of
from recall.desk.core.guarding import always, needs
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.visits.drafting import history_state, refuse_others
from recall.desk.visits.drafts import AS_SHOWN, Acceptance, Closed, Draft
from recall.desk.visits.emergencies import keep_arranged, keep_words
from recall.desk.visits.judging import keep, keep_needed, refuse, say_withdrawn
from recall.desk.visits.milder import (
    keep_milder,
    lost_by_void,
    refuse_unexplained,
    say_milder,
)
from recall.desk.visits.rows import decision_row, keep_appointment, store_visit
from recall.desk.visits.untyped import typed
from recall.errors import Conflict, InputError, Refused
from recall.records import tables
from recall.schedule.plan import Decision
from recall.schedule.plan_lines import Judgement, Line, line_named, lines_of

WAITS = (
    "It waits for a clinician to confirm its plan (recall confirm), and no letter goes out before. "
    "What is an emergency or urgent stands, and is acted on now."
)


@needs(Right.TYPE_VISITS, never_waits=always)
def close_visit(desk: Desk, given: Draft, accepted: Acceptance = AS_SHOWN) -> Closed:
    """Store a visit that was looked at; the person is planned again in the same transaction.

    Args:
        desk: who acts, on which day.
        given: the draft, as it was shown.
        accepted: what whoever closes it answered, and what they changed.

    Raises:
        Conflict: somebody else changed this person meanwhile.
        Refused: a question was not looked at, nobody is named with whom an emergency was
            arranged, or whoever acts may not change the plan.
    """
    if given.questions and not accepted.looked:
        first = given.questions[0].says
        raise Refused(f"Not closed: {first}", hint="Look again, then say that you did.")
    refuse_unexplained(given.milder, accepted.milder_why)
    _refuse_changes(desk, accepted.changes)
    judged = _judged(desk, given, accepted)
    with desk.store.write() as session:
        if history_state(session, given.person_id) != given.state:
            raise Conflict(
                f"Somebody else changed person {given.reference} meanwhile.",
                hint="Look at the plan again, then close the visit.",
            )
        act = Act(desk, session, given.person_id)
        number = _store(act, given, accepted)
        keep(act, judged, given.visit.on, given.born)
        keep_needed(act, given, accepted)
        closed = f"Visit #{number} of {given.reference} is closed."
        words = in_words((closed, say_withdrawn(judged, given.visit.on)))
        done = act.finish("visit", words, refold=True, made=number)
        whom = accepted.arranged_with.strip()
        keep_arranged(desk, session, given.person_id, given.visit.on, whom)
        words = given.note.for_letters.strip() if desk.by.may_decide else ""
        keep_words(desk, session, given.person_id, given.visit.on, words)
    said = done.words if desk.by.may_decide else f"{done.words} {WAITS}"
    return Closed(number, said, given.plan)


def _store(act: Act, given: Draft, accepted: Acceptance) -> int:
    """Store the rows of a visit, and return its number."""
    if given.note.corrects is not None:
        act.void("visit", given.note.corrects, "Corrected.")
        keep_milder(act, given.note.corrects, given.milder, accepted.milder_why)
    number = store_visit(act, given)
    for change in accepted.changes:
        act.add("decision", **decision_row(given.person_id, change))
    if name := accepted.acknowledged_by.strip():
        act.note(f"What presses was acknowledged by {name}.", "visit", number)
    keep_appointment(act, given.person_id, given.visit.on, number)
    typed(act, given.visit.on)
    return number


@needs(Right.TYPE_VISITS)
def void_visit(desk: Desk, visit_id: int, why: str) -> Next:
    """Void a visit that should not be there; the person is planned again.

    Raises:
        InputError: no reason.
        NotFound: no such visit.
        Refused: it is somebody else's visit, and whoever acts may not decide.
    """
    required(why, "A visit is not voided without a reason.", hint="Add --why.")
    with desk.store.write() as session:
        old = row_of(session, tables.Visit, visit_id)
        refuse_others(old, desk)
        lost = lost_by_void(desk, session, old)
        act = Act(desk, session, old.person_id)
        act.void("visit", visit_id, why.strip())
        keep_milder(act, visit_id, lost, why)
        words = in_words((f"Visit #{visit_id} is voided.", say_milder(lost)))
        return act.finish("visit_voided", words, refold=True)


def _judged(desk: Desk, given: Draft, accepted: Acceptance) -> list[tuple[Line, Judgement]]:
    """Return the lines of the draft that are judged otherwise, each allowed."""
    if not accepted.judged:
        return []
    desk.require(Right.DECIDE)
    lines, found = lines_of(given.plan), []
    for name, judgement in accepted.judged:
        line = line_named(lines, name)
        if line is None:
            raise Conflict(
                f"The plan has no line {name!r} any more.",
                hint="Look at the plan again, then close the visit.",
            )
        refuse(desk, line, judgement, given.visit, given.born)
        found.append((line, judgement))
    return found


def _refuse_changes(desk: Desk, changes: Sequence[Decision]) -> None:
    if not changes:
        return
    desk.require(Right.DECIDE)
    if any(not (change.because or change.why.strip()) for change in changes):
        raise InputError("A date is not changed without a reason.", hint="Say why.")
