"""The day's list: what `recall.loop.day` says is due, for this register on the desk's day.

Candidates come by the search columns. What a column says is a row that was kept when
something happened last; where time alone may have turned it, or the person is not planned
again yet, the row is worked out from facts here. What is shown is always worked out from facts.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import chain

from sqlalchemy.orm import Session

from recall.care.case import URGENCIES
from recall.desk.core.session import Desk
from recall.desk.worklists.call_days import days_then, sooner_days
from recall.desk.worklists.status_on import (
    FollowUpStatus,
    Progress,
    has_gone_by,
    statuses,
    statuses_then,
    then_once,
)
from recall.loop.day import (
    OWN_DAYS,
    CallBy,
    DayRow,
    HasCome,
    Place,
    View,
    always,
    belongs,
    day_row,
    listed,
    seen_row,
    to_ring,
)
from recall.loop.status import status_on
from recall.protocol.contact_steps import LOOK_THROUGH, TOLD, TURNING, TYPE_VISIT
from recall.records.facts.candidates import (
    Candidate,
    Which,
    candidates,
    not_planned,
    settled,
)
from recall.records.facts.cases import PAGE, pages
from recall.records.facts.events import facts_for
from recall.records.facts.unsettled import told_by_facts, unsettled

_LOOK: dict[View, Which] = {
    "reach": "come",
    "reach_or_write": "come",
    "clinician": "come",
    "lost": "come",
    "overdue": "late",
    "open": "open",
    "history": "history",
}
"""Which candidates a view may hold."""
_RINGS = ("reach", "reach_or_write")
"""Views from which whoever waits for a clinician is left out."""
_UNSETTLED = sorted({*TURNING, *TOLD, TYPE_VISIT, LOOK_THROUGH})
"""Steps that may be others by now, or say something about what else is open for a person."""
_TELLING = (*TOLD, TYPE_VISIT)
"""Steps that say so already before their day."""


@dataclass(frozen=True)
class Part:
    """Which part of a list is wanted, and by what was known when."""

    limit: int | None = None
    offset: int = 0
    known_at: datetime | None = None

    @property
    def end(self) -> int | None:
        """Return the place after the last one."""
        return None if self.limit is None else self.offset + self.limit


WHOLE = Part()


def day_rows(desk: Desk, session: Session, view: View) -> tuple[DayRow, ...]:
    """Return the rows of a list on the desk's day, in order."""
    by: CallBy = {}
    if has_gone_by(desk, session):
        then = then_once(desk, session)
        rows: Iterable[DayRow] = map(row_of, then)
        if view in _RINGS:
            by = days_then(then, desk)
    else:
        rows = rows_by(desk, session, _LOOK[view], desk.today)
        if view in _RINGS:
            rows, by = chain(rows, _telling(desk, session)), sooner_days(desk, session)
    return listed(rows, desk.today, view, desk.clock.has_come, by)


def to_ring_on(desk: Desk, session: Session, view: View = "reach") -> tuple[list[Place], ...]:
    """Return whom whoever rings is to reach on the desk's day: what `day_rows` has, in its order.

    What was promised and has come, what is done now, what is done later today.
    """
    today, has_come = desk.today, desk.clock.has_come
    if has_gone_by(desk, session):
        then = then_once(desk, session)
        rows, by = map(row_of, then), days_then(then, desk)
        return to_ring(rows, lambda _steps: [], today, view, has_come, by)
    live = desk.protocol.contact.live_from()
    apart = unsettled(session, today, _UNSETTLED, _TELLING, live)
    # What says by itself that it was answered is known as it is kept, as on every list.
    old, kept = list(apart.by_facts), list[Candidate]()
    for each in (*apart.kept, *apart.later):
        anew = each.step in TURNING or _may_be_history(each, live)
        (old if anew else kept).append(each)
    seen = (seen_row(person, today) for person in apart.seen)
    known = chain(_anew(desk, session, old), map(_stored_row, kept), seen)
    out = {each.id for each in (*apart.by_facts, *apart.kept)}

    def places(steps: frozenset[str]) -> list[Place]:
        found = settled(session, today, sorted(steps), live)
        return [each for each in found if each[4] not in out] if out else found

    return to_ring(known, places, today, view, has_come, sooner_days(desk, session))


def come(desk: Desk, session: Session) -> list[DayRow]:
    """Return what has a next step that has come on the desk's day, in no order.

    With it what is not due and keeps a person from being rung.
    """
    if has_gone_by(desk, session):
        return [row_of(each) for each in statuses_then(desk, session)]
    return [*rows_by(desk, session, "come", desk.today), *_telling(desk, session)]


def _telling(desk: Desk, session: Session) -> Iterator[DayRow]:
    """Give what waits for an answer or a visit until a later day: the person is not rung.

    With it who was seen on the day itself.
    """
    live, old = desk.protocol.contact.live_from(), list[Candidate]()
    apart = unsettled(session, desk.today, (), _TELLING, live)
    for person in apart.seen:
        yield seen_row(person, desk.today)
    for each in apart.later:
        if _may_be_history(each, live):
            old.append(each)
        else:
            yield _stored_row(each)
    yield from _anew(desk, session, old)


def rows_by(
    desk: Desk, session: Session, which: Which, day: date, steps: Collection[str] = ()
) -> Iterator[DayRow]:
    """Give the rows of candidates by a day, as they stand on the desk's day, in no order.

    `steps` leaves out who is at another step for certain.
    """
    old: list[Candidate] = []
    waiting, hours = not_planned(session), told_by_facts(session, day)
    at = (*steps, *TURNING) if steps else ()
    live = desk.protocol.contact.live_from()
    # One look at each of what may be tens of thousands: functions of a line would cost as much
    # as reading them does.
    before = live or date.min
    for each in candidates(session, which, day, at, hours, live):
        if each.step == LOOK_THROUGH:
            turns = each.next_step_on != live
        else:
            turns = each.step in TURNING or each.latest < before
        if turns or each.person_id in waiting or each.id in hours:
            old.append(each)
        else:
            yield _stored_row(each)
    yield from _anew(desk, session, old)


def _may_be_history(each: Candidate, live: date | None) -> bool:
    """Return whether only the facts say if this is of before the practice went live.

    That day is a setting, and may be another one than when the row was kept.
    """
    if each.step == LOOK_THROUGH:
        return each.next_step_on != live
    return live is not None and each.latest < live


def _stored_row(each: Candidate) -> DayRow:
    step, urgency = each.step, URGENCIES[each.urgency_rank]
    return DayRow(
        each.person_id, each.id, urgency, step, each.next_step_on, each.latest, told=step in TOLD
    )


def _anew(desk: Desk, session: Session, old: Sequence[Candidate]) -> Iterator[DayRow]:
    """Give the rows of candidates whose columns may not hold, from facts."""
    facts, on = facts_for(session, [each.id for each in old]), desk.today
    for each in old:
        found = status_on(facts[each.id], on, desk.protocol.contact)
        if found.step is not None:
            yield day_row(each.person_id, each.id, facts[each.id], found)


def everything(
    desk: Desk, session: Session, progress: Progress | None = None
) -> Iterator[FollowUpStatus]:
    """Give all that is open on the desk's day, each worked out from facts, in no order."""
    if has_gone_by(desk, session):
        yield from statuses_then(desk, session, progress=progress)
        return
    ids = [each.id for each in candidates(session, "open", desk.today)]
    for done, some in enumerate(pages(ids), 1):
        yield from statuses(desk, session, some)
        if progress is not None:
            progress(min(done * PAGE, len(ids)), len(ids))


def statuses_of(desk: Desk, session: Session, ids: Sequence[int]) -> list[FollowUpStatus]:
    """Return how some follow-ups stand on the desk's day, in the order of the numbers."""
    if not has_gone_by(desk, session):
        return statuses(desk, session, ids)
    then = {each.follow_up_id: each for each in then_once(desk, session)}
    return [then[number] for number in ids if number in then]


def on_list(desk: Desk, session: Session, view: View, part: Part = WHOLE) -> list[FollowUpStatus]:
    """Return a part of a list in order, each worked out from facts."""
    if part.known_at is not None or has_gone_by(desk, session):
        at = part.known_at
        then = statuses_then(desk, session, at) if at else then_once(desk, session)
        by = days_then(then, desk) if view in _RINGS and part.known_at is None else {}
        ordered = in_order(then, desk.today, view, desk.clock.has_come, by)
        return ordered[part.offset : part.end]
    if view in _RINGS:
        numbers = [p[4] for some in to_ring_on(desk, session, view) for p in some]
    else:
        numbers = [row.number for row in day_rows(desk, session, view)]
    numbers = numbers[part.offset : part.end]
    found, on = statuses(desk, session, numbers), desk.today
    return [each for each in found if belongs(row_of(each), on, view)]


def in_order(
    found: Iterable[FollowUpStatus],
    on: date,
    view: View,
    has_come: HasCome = always,
    by: CallBy = OWN_DAYS,
) -> list[FollowUpStatus]:
    """Return those that belong on a list, in the order of every list."""
    by_row = [(row_of(each), each) for each in found]
    in_turn = listed((row for row, _ in by_row), on, view, has_come, by)
    place = {row: n for n, row in enumerate(in_turn)}
    mine = [pair for pair in by_row if pair[0] in place]
    return [each for _row_, each in sorted(mine, key=lambda pair: place[pair[0]])]


def row_of(each: FollowUpStatus) -> DayRow:
    """Return the row of something open that was worked out from facts."""
    return day_row(each.person_id, each.follow_up_id or 0, each.facts, each.status)
