"""The register's month in numbers: how everybody stood at its end, and what came of it.

Nothing is read from search columns: how a follow-up stood is worked out from its facts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.care.case import URGENCIES
from recall.care.dates import is_child
from recall.clock import Clock
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.day_list import everything
from recall.loop.referral import LOOK_THROUGH, state
from recall.records.facts.candidates import waits
from recall.records.facts.events import referral_loops
from recall.records.tables import (
    Booking,
    BookingEvent,
    Due,
    DueEvent,
    FollowUp,
    Letter,
    Person,
    Referral,
    Visit,
)

Progress = Callable[[int, int], None]
BANDS = ((0, "not late"), (14, "up to 2 weeks late"), (42, "up to 6 weeks late"))
WORST = "more than 6 weeks late"
LEFT_OUT = ("superseded", "entered_in_error")
"""Asks that ended so never had to be met."""
MET = ("answered", "resolved")


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
            *_open_at_the_end(desk, session, last, progress),
            *_in_time(session, first, last),
            *_closed(session, first, last),
            *_referrals(desk, session, first, last),
            *_missed(session, first, last),
            *_letters(session, first, last),
            *_visits(session, first, last, appointments),
        )
    return Report(first, last, lines)


def _open_at_the_end(
    desk: Desk, session: Session, on: date, progress: Progress | None
) -> Iterator[Line]:
    """Count how everything open stood at the end of the month, by urgency and by lateness."""
    then = replace(desk, clock=Clock.at(on, desk.clock.zone))
    words: Counter[tuple[str, str]] = Counter()
    late: Counter[tuple[str, str]] = Counter()
    for each in everything(then, session, progress):
        words[each.status.word, each.status.urgency] += 1
        late[_band(each.status.late_by_days), each.status.urgency] += 1
    for what, counted in (("status", words), ("lateness", late)):
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
        select(DueEvent.due_id, func.max(DueEvent.id).label("id"))
        .where(DueEvent.void_at.is_(None))
        .group_by(DueEvent.due_id)
        .subquery()
    )
    wanted = (
        select(Due.category, Due.latest, Due.is_open, DueEvent.reason)
        .add_columns(DueEvent.on.label("closed_on"))
        .select_from(Due)
        .outerjoin(closing, closing.c.due_id == Due.id)
        .outerjoin(DueEvent, DueEvent.id == closing.c.id)
        .where(Due.void_at.is_(None), Due.latest.between(first, last))
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
    c = FollowUp
    wanted = (
        select(c.close_reason, func.count())
        .where(c.closed_on.between(first, last), ~c.is_open, FollowUp.void_at.is_(None))
        .group_by(c.close_reason)
        .order_by(c.close_reason)
    )
    for reason, count in session.execute(wanted):
        yield Line("closed", reason or "", "", count)


def _referrals(desk: Desk, session: Session, first: date, last: date) -> Iterator[Line]:
    """Count the open referrals by the stage that is not known yet, and those past their day."""
    c = Referral
    ids = session.scalars(
        select(c.id).where(
            Referral.void_at.is_(None), c.on <= last, c.is_open | (c.ended_on > last)
        )
    ).all()
    stages: Counter[str] = Counter()
    unconfirmed: Counter[str] = Counter()
    for loop in referral_loops(session, ids).values():
        found = state(loop, last, desk.protocol.contact, desk.calendar)
        stages[found.stage] += 1
        chased = found.chased_on is not None and found.chased_on <= last
        chased = chased and found.stage != LOOK_THROUGH
        unconfirmed[loop.referral.urgency] += chased
    for stage, count in sorted(stages.items()):
        yield Line("referrals open", stage, "", count)
    for urgency in URGENCIES:
        if unconfirmed[urgency]:
            yield Line("referrals not confirmed in time", urgency, "", unconfirmed[urgency])
    ended = (
        select(c.end_reason, func.count())
        .where(Referral.void_at.is_(None), ~c.is_open, c.ended_on.between(first, last))
        .group_by(c.end_reason)
        .order_by(c.end_reason)
    )
    for reason, count in session.execute(ended):
        yield Line("referrals ended", reason or "", "", count)


def _missed(session: Session, first: date, last: date) -> Iterator[Line]:
    wanted = (
        select(BookingEvent.what, BookingEvent.on, Person.born)
        .join_from(BookingEvent, Booking, BookingEvent.booking_id == Booking.id)
        .join(Person, Booking.person_id == Person.id)
        .where(BookingEvent.void_at.is_(None), BookingEvent.on.between(first, last))
    )
    counted: Counter[tuple[str, str]] = Counter()
    for what, on, born in session.execute(wanted):
        counted[what, "child" if is_child(born, on) else "adult"] += 1
    for (what, who), count in sorted(counted.items()):
        yield Line("bookings", what, who, count)


def _letters(session: Session, first: date, last: date) -> Iterator[Line]:
    c = Letter
    wanted = (
        select(c.kind, func.count(), func.count(c.returned_on))
        .where(Letter.void_at.is_(None), c.posted_on.between(first, last))
        .group_by(c.kind)
        .order_by(c.kind)
    )
    for kind, count, back in session.execute(wanted):
        yield Line("letters posted", kind, "", count)
        if back:
            yield Line("letters returned", kind, "", back)


def _visits(session: Session, first: date, last: date, appointments: int | None) -> Iterator[Line]:
    """Reconcile the visits on record with the appointments that were kept."""
    month = Visit.on.between(first, last)
    visits = session.scalar(select(func.count()).where(month, Visit.void_at.is_(None))) or 0
    unconfirmed = session.scalar(select(func.count()).where(month, *waits(Visit))) or 0
    yield Line("visits", "on record", "", visits)
    yield Line("visits", "not confirmed by a clinician", "", unconfirmed)
    kept = _kept_without_visit(session, first, last)
    yield Line("visits", "appointments kept without a visit on record", "", kept)
    if appointments is not None:
        yield Line("visits", "counted by the practice", "", appointments)
        yield Line("visits", "missing from the register", "", max(0, appointments - visits))


def _kept_without_visit(session: Session, first: date, last: date) -> int:
    starts = Booking.starts_local
    begin = datetime.combine(first, time.min)
    end = datetime.combine(last + timedelta(days=1), time.min)
    wanted = (
        select(Booking.person_id, starts)
        .join_from(BookingEvent, Booking, BookingEvent.booking_id == Booking.id)
        .where(
            BookingEvent.void_at.is_(None),
            BookingEvent.what == "attended",
            starts >= begin,
            starts < end,
        )
    )
    attended = {(person_id, at.date()) for person_id, at in session.execute(wanted)}
    v = Visit
    seen = select(v.person_id, v.on).where(v.on.between(first, last), Visit.void_at.is_(None))
    return len(attended - {(person_id, on) for person_id, on in session.execute(seen)})
