"""What the manager sees ahead and behind: the work of the coming weeks, and who came back in time.

The work ahead is counted from open follow-ups: one that is booked in the week of its
appointment, any other in the week of its target, and one whose target has gone by as waiting
already. What is behind is told per kind of follow-up: the share seen by the latest day, and the
curve of those still awaited from the day the window opens.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from sqlalchemy import ColumnElement, and_, exists, func, or_, select
from sqlalchemy.orm import Session

from recall.care.dates import add
from recall.cycle.curve import Step, kaplan_meier, median, wilson
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.records import tables
from recall.records.facts.cases import stands

WEEKS = 12
MONTHS = 24
"""How far back the kinds of follow-up are told."""
_WEEK = timedelta(days=7)
SEEN = ("answered", "resolved")
"""How a due ends when the person came and was looked at."""
_NEVER = ("entered_in_error",)
"""What should not have been asked is not counted."""


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


@dataclass(frozen=True)
class Returns:
    """How people came back for one kind of follow-up."""

    category: str
    asked: int
    """How many windows opened in the time looked at."""
    due: int
    """Of these, whose latest day has gone by."""
    in_time: int
    """Of those, seen by their latest day."""
    share: float | None
    low: float
    high: float
    """The share in time with its 95 per cent interval (Wilson)."""
    half_days: float | None
    """Days after the window opens by which half have been seen; None where they have not."""
    curve: tuple[Step, ...]
    """Those still awaited, by days since the window opened (Kaplan-Meier)."""


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


@needs(Right.LOOK)
def came_back(desk: Desk) -> tuple[Returns, ...]:
    """Return each kind of follow-up whose window opened in the last months, the most first."""
    since = add(desk.today, months=-MONTHS)
    found: dict[str, list[_Asks]] = defaultdict(list)
    with desk.store.read() as session:
        for ask in _asks(session, since, desk.today):
            found[ask.category].append(ask)
    told = [_returns(category, asks, desk.today) for category, asks in found.items()]
    return tuple(sorted(told, key=lambda r: (-r.asked, r.category)))


@dataclass(frozen=True)
class _Asks:
    """Some dues alike: their window, and when and how they ended."""

    category: str
    earliest: date
    latest: date
    ended_on: date | None
    reason: str | None
    count: int

    def is_seen(self, on: date) -> bool:
        """Return whether they had been seen by a day."""
        return self.reason in SEEN and self.ended_on is not None and self.ended_on <= on


def _returns(category: str, asks: Sequence[_Asks], on: date) -> Returns:
    due = in_time = 0
    times: list[tuple[float, bool]] = []
    for s in asks:
        end = s.ended_on if s.ended_on is not None and s.ended_on <= on else on
        times += [(max(0.0, (end - s.earliest).days), s.is_seen(on))] * s.count
        gone_otherwise = s.ended_on is not None and not s.is_seen(on) and s.ended_on <= s.latest
        if s.latest < on and not gone_otherwise:
            due += s.count
            in_time += s.count if s.is_seen(s.latest) else 0
    low, high = wilson(in_time, due)
    curve = kaplan_meier(times)
    share = in_time / due if due else None
    asked = sum(s.count for s in asks)
    return Returns(category, asked, due, in_time, share, low, high, median(curve), curve)


def _asks(session: Session, since: date, on: date) -> Iterable[_Asks]:
    """Give the dues whose window opened in a time, those that are alike together."""
    d, e = tables.Due, tables.DueEvent
    last = (
        select(e.due_id, func.max(e.id).label("id"))
        .where(e.what == "closed", stands(tables.DueEvent))
        .group_by(e.due_id)
        .subquery()
    )
    columns = d.category, d.earliest, d.latest, e.on, e.reason
    wanted = (
        select(*columns, func.count())
        .select_from(tables.Due)
        .outerjoin(last, and_(last.c.due_id == d.id, d.is_open.is_(False)))
        .outerjoin(tables.DueEvent, e.id == last.c.id)
        .where(d.kind == "recheck", d.earliest >= since, d.earliest <= on, stands(tables.Due))
        .group_by(*columns)
    )
    for row in session.execute(wanted):
        ask = _Asks(*row)
        if ask.reason not in _NEVER:
            yield ask


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
