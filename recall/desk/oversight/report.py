"""The register's month in numbers: how everybody stood at its end, and what came of it.

Nothing is read from search columns: how a follow-up stood is worked out from its facts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.care.case import URGENCIES
from recall.care.dates import is_child
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.loop.referral import state
from recall.loop.standing import standing
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.facts.events import facts_for, referral_loops
from recall.records.facts.queries import stood_on

Progress = Callable[[int, int], None]
BANDS = ((0, "not late"), (14, "up to 2 weeks late"), (42, "up to 6 weeks late"))
WORST = "more than 6 weeks late"
LEFT_OUT = ("superseded", "entered_in_error")
"""Asks that ended so never had to be met."""
MET = ("answered", "resolved")
_due: Any = tables.Due.__table__
_due_event: Any = tables.DueEvent.__table__
_follow_up: Any = tables.FollowUp.__table__
_referral: Any = tables.Referral.__table__
_visit: Any = tables.Visit.__table__
_booking: Any = tables.Booking.__table__
_ended: Any = tables.BookingEvent.__table__
_letter: Any = tables.Letter.__table__
_person: Any = tables.Person.__table__


@dataclass(frozen=True)
class Line:
    """One number of the report."""

    part: str
    what: str
    by: str
    count: int
    of: int | None = None
    """Out of how many, where it is a share."""


@dataclass(frozen=True)
class Report:
    """A month's numbers."""

    first: date
    last: date
    lines: tuple[Line, ...]


@needs(Right.LOOK)
def register_report(
    desk: Desk, month: date, appointments: int | None = None, progress: Progress | None = None
) -> Report:
    """Return the numbers of a month.

    Args:
        desk: whose register.
        month: any day of it.
        appointments: how many appointments the practice itself counts in it, where known.
        progress: told now and then how many follow-ups were looked at.
    """
    first = month.replace(day=1)
    last = (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)
    with desk.store.read() as session:
        lines = (
            *_standing(desk, session, last, progress),
            *_in_time(session, first, last),
            *_closed(session, first, last),
            *_referrals(desk, session, first, last),
            *_missed(session, first, last),
            *_letters(session, first, last),
            *_visits(session, first, last, appointments),
        )
    return Report(first, last, lines)


def _standing(desk: Desk, session: Session, on: date, progress: Progress | None) -> Iterator[Line]:
    """Count how every follow-up stood at the end of the month, by urgency and by lateness."""
    ids = stood_on(session, on)
    words: Counter[tuple[str, str]] = Counter()
    late: Counter[tuple[str, str]] = Counter()
    for done, some in enumerate(pages(ids), 1):
        for facts in facts_for(session, some).values():
            found = standing(facts, on, desk.protocol.contact)
            words[found.word, facts.urgency] += 1
            late[_band(found.late_by_days), facts.urgency] += 1
        if progress is not None:
            progress(done, len(ids))
    for what, counted in (("standing", words), ("lateness", late)):
        for (word, urgency), count in sorted(counted.items(), key=_by_urgency):
            yield Line(what, word, urgency, count)


def _by_urgency(item: tuple[tuple[str, str], int]) -> tuple[str, int]:
    (word, urgency), _count = item
    return word, URGENCIES.index(urgency)


def _band(days: int) -> str:
    return next((words for most, words in BANDS if days <= most), WORST)


def _in_time(session: Session, first: date, last: date) -> Iterator[Line]:
    """Count, of the asks whose latest day fell into the month, those met by then."""
    closing = (
        select(_due_event.c.due_id, func.max(_due_event.c.id).label("id"))
        .where(stands(_due_event))
        .group_by(_due_event.c.due_id)
        .subquery()
    )
    wanted = (
        select(_due.c.category, _due.c.latest, _due.c.is_open, _due_event.c.reason)
        .add_columns(_due_event.c.on.label("closed_on"))
        .select_from(_due)
        .outerjoin(closing, closing.c.due_id == _due.c.id)
        .outerjoin(_due_event, _due_event.c.id == closing.c.id)
        .where(stands(_due), _due.c.latest.between(first, last))
    )
    asked: Counter[str] = Counter()
    met: Counter[str] = Counter()
    for row in session.execute(wanted):
        closed = not row.is_open
        if closed and row.reason in LEFT_OUT:
            continue
        asked[row.category] += 1
        met[row.category] += closed and row.reason in MET and row.closed_on <= row.latest
    for category, of in sorted(asked.items()):
        yield Line("came back in time", category, "", met[category], of)


def _closed(session: Session, first: date, last: date) -> Iterator[Line]:
    c = _follow_up.c
    wanted = (
        select(c.close_reason, func.count())
        .where(c.closed_on.between(first, last), ~c.is_open, stands(_follow_up))
        .group_by(c.close_reason)
        .order_by(c.close_reason)
    )
    for reason, count in session.execute(wanted):
        yield Line("closed", reason, "", count)


def _referrals(desk: Desk, session: Session, first: date, last: date) -> Iterator[Line]:
    """Count the open referrals by the stage that is not known yet, and those past their day."""
    c = _referral.c
    ids = session.scalars(
        select(c.id).where(stands(_referral), c.on <= last, c.is_open | (c.ended_on > last))
    ).all()
    stages: Counter[str] = Counter()
    unconfirmed: Counter[str] = Counter()
    for loop in referral_loops(session, ids).values():
        found = state(loop, last, desk.protocol.contact, desk.calendar)
        stages[found.stage] += 1
        chased = found.chased_on is not None and found.chased_on <= last
        unconfirmed[loop.referral.urgency] += chased
    for stage, count in sorted(stages.items()):
        yield Line("referrals open", stage, "", count)
    for urgency in URGENCIES:
        if unconfirmed[urgency]:
            yield Line("referrals not confirmed in time", urgency, "", unconfirmed[urgency])
    ended = (
        select(c.end_reason, func.count())
        .where(stands(_referral), ~c.is_open, c.ended_on.between(first, last))
        .group_by(c.end_reason)
        .order_by(c.end_reason)
    )
    for reason, count in session.execute(ended):
        yield Line("referrals ended", reason, "", count)


def _missed(session: Session, first: date, last: date) -> Iterator[Line]:
    wanted = (
        select(_ended.c.what, _ended.c.on, _person.c.born)
        .join_from(_ended, _booking, _ended.c.booking_id == _booking.c.id)
        .join(_person, _booking.c.person_id == _person.c.id)
        .where(stands(_ended), _ended.c.on.between(first, last))
    )
    counted: Counter[tuple[str, str]] = Counter()
    for what, on, born in session.execute(wanted):
        counted[what, "child" if is_child(born, on) else "adult"] += 1
    for (what, who), count in sorted(counted.items()):
        yield Line("bookings", what, who, count)


def _letters(session: Session, first: date, last: date) -> Iterator[Line]:
    c = _letter.c
    wanted = (
        select(c.kind, func.count(), func.count(c.returned_on))
        .where(stands(_letter), c.posted_on.between(first, last))
        .group_by(c.kind)
        .order_by(c.kind)
    )
    for kind, count, back in session.execute(wanted):
        yield Line("letters posted", kind, "", count)
        if back:
            yield Line("letters returned", kind, "", back)


def _visits(session: Session, first: date, last: date, appointments: int | None) -> Iterator[Line]:
    """Reconcile the visits on record with the appointments that were kept."""
    v, month = _visit.c, _visit.c.on.between(first, last)
    visits = session.scalar(select(func.count()).where(month, stands(_visit))) or 0
    waits = (v.source == "imported") & v.confirmed_at.is_(None)
    unconfirmed = session.scalar(select(func.count()).where(month, stands(_visit), waits)) or 0
    yield Line("visits", "on record", "", visits)
    yield Line("visits", "not confirmed by a clinician", "", unconfirmed)
    kept = _kept_without_visit(session, first, last)
    yield Line("visits", "appointments kept without a visit on record", "", kept)
    if appointments is not None:
        yield Line("visits", "counted by the practice", "", appointments)
        yield Line("visits", "missing from the register", "", max(0, appointments - visits))


def _kept_without_visit(session: Session, first: date, last: date) -> int:
    starts = _booking.c.starts_local
    begin = datetime.combine(first, time.min)
    end = datetime.combine(last + timedelta(days=1), time.min)
    wanted = (
        select(_booking.c.person_id, starts)
        .join_from(_ended, _booking, _ended.c.booking_id == _booking.c.id)
        .where(stands(_ended), _ended.c.what == "attended", starts >= begin, starts < end)
    )
    attended = {(person_id, at.date()) for person_id, at in session.execute(wanted)}
    v = _visit.c
    seen = select(v.person_id, v.on).where(v.on.between(first, last), stands(_visit))
    return len(attended - {(person_id, on) for person_id, on in session.execute(seen)})
