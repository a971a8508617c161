"""What the manager sees ahead: the work of the coming weeks.

The work ahead is counted from open follow-ups: one that is booked in the week of its
appointment, any other in the week of its target, and one whose target has gone by as waiting
already.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from sqlalchemy import ColumnElement, exists, func, or_, select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.records import tables
from recall.records.facts.cases import stands

WEEKS = 12
_WEEK = timedelta(days=7)


@dataclass(frozen=True)
class Week:
    """One week ahead: what is booked, what should be, and what the practice can give."""

    monday: date
    booked: int
    wanted: int
    """Not booked, with the target in this week."""
    waiting: int
    """Not booked, and the target went by before this week; only the first week has any."""
    latest: int
    """How many of them all have their latest day in this week."""
    capacity: int

    @property
    def asked(self) -> int:
        """Return how many appointments this week would need."""
        return self.booked + self.wanted + self.waiting

    @property
    def over(self) -> int:
        """Return how many more that is than the practice can give."""
        return max(0, self.asked - self.capacity)


@needs(Right.LOOK)
def workload(desk: Desk, weeks: int = WEEKS) -> tuple[Week, ...]:
    """Return the coming weeks from this one on, with what each asks for and can give."""
    first = _monday(desk.today)
    mondays = [first + n * _WEEK for n in range(weeks)]
    end = mondays[-1] + _WEEK
    with desk.store.read() as session:
        booked = _by_week(_booked(session, first, end))
        wanted = _by_week(_wanted(session, end))
        latest = _by_week(_latest(session, first, end))
    gone_by = sum(count for monday, count in wanted.items() if monday < first)
    return tuple(
        Week(
            monday,
            booked[monday],
            wanted[monday],
            gone_by if monday == first else 0,
            latest[monday],
            capacity(desk, monday),
        )
        for monday in mondays
    )


@needs(Right.LOOK)
def capacity(desk: Desk, monday: date) -> int:
    """Return how many appointments a week can give: fewer where days of it are closed."""
    usual = len(desk.calendar.weekdays)
    if not usual:
        return 0
    open_days = desk.calendar.open_days(monday, monday + timedelta(days=6))
    return round(desk.config.capacity.per_week * len(open_days) / usual)


def _booked(session: Session, first: date, end: date) -> Iterable[tuple[date, int]]:
    c = tables.Booking
    wanted = (
        select(c.starts_local, func.count())
        .where(*_coming(first), c.starts_local < datetime.combine(end, time()))
        .group_by(c.starts_local)
    )
    return [(starts.date(), count) for starts, count in session.execute(wanted)]


def _wanted(session: Session, end: date) -> Iterable[tuple[date, int]]:
    """Give the targets of what is open and not booked; one seen after its target waits."""
    c = tables.FollowUp
    wanted = (
        select(c.target, func.count())
        .where(c.is_open, stands(tables.FollowUp), c.target < end, ~_is_booked())
        .group_by(c.target)
    )
    return [(day, count) for day, count in session.execute(wanted)]


def _latest(session: Session, first: date, end: date) -> Iterable[tuple[date, int]]:
    c = tables.FollowUp
    wanted = (
        select(c.latest, func.count())
        .where(c.is_open, stands(tables.FollowUp), c.latest >= first, c.latest < end)
        .group_by(c.latest)
    )
    return [(day, count) for day, count in session.execute(wanted)]


def _coming(first: date) -> tuple[ColumnElement[bool], ...]:
    """Return the conditions of a booking that still stands."""
    c = tables.Booking
    over = exists().where(tables.BookingEvent.booking_id == c.id, stands(tables.BookingEvent))
    return c.starts_local >= datetime.combine(first, time()), stands(tables.Booking), ~over


def _is_booked() -> ColumnElement[bool]:
    over = exists().where(
        tables.BookingEvent.booking_id == tables.Booking.id, stands(tables.BookingEvent)
    )
    b, a, f = tables.Booking, tables.AlsoAbout, tables.FollowUp
    standing = stands(tables.Booking), ~over
    too = a.booking_id == b.id, a.follow_up_id == f.id, stands(tables.AlsoAbout)
    named = exists().where(b.follow_up_id == f.id, *standing).correlate(tables.FollowUp)
    return or_(named, exists().where(*too, *standing).correlate(tables.FollowUp))


def _by_week(days: Iterable[tuple[date, int]]) -> Counter[date]:
    found: Counter[date] = Counter()
    for day, count in days:
        found[_monday(day)] += count
    return found


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())
