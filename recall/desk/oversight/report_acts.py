"""What the month's report tells of acts: appointments, letters and visits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.care.dates import is_child
from recall.desk.oversight.report_lines import Line
from recall.records.facts.candidates import waits
from recall.records.tables import Booking, BookingEvent, Letter, Person, Visit


def acts(session: Session, first: date, last: date, appointments: int | None) -> Iterator[Line]:
    """Give the numbers of what was done in a month, and of the practice's own count."""
    yield from _missed(session, first, last)
    yield from _letters(session, first, last)
    yield from _visits(session, first, last, appointments)


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
