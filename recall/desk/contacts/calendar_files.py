"""Bookings as calendar files, and a day's appointments with what to know before each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.acting import row_of
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.visits.cautions import cautions
from recall.exchange.icalendar_out import Appointment, booking_calendar, day_calendar
from recall.records import tables
from recall.records.facts.cases import cases_of, stands
from recall.records.tables.statements import read_as
from recall.schedule.calendar import say_day

_MOVED = frozenset({"moved_by_person", "moved_by_practice"})
_OFF = frozenset({"cancelled_by_person", "cancelled_by_practice"})


@dataclass(frozen=True)
class BookingRow:
    """One appointment as a day's list shows it."""

    id: int
    starts_local: datetime
    minutes: int
    person_id: int
    ref: str
    name: str
    born: date
    with_: str
    do: tuple[str, ...]
    ears: tuple[str, ...]
    late_why: str
    ended: str
    """How it ended; empty while it stands."""
    cautions: tuple[str, ...]
    version: int


@dataclass(frozen=True)
class _Booked:
    """A booking with what stands beside it; a booking may have no follow-up and nobody named."""

    id: int
    person_id: int
    follow_up_id: int | None
    starts_local: datetime
    zone: str
    minutes: int
    late_why: str
    ref: str
    given_names: str
    family_name: str
    born: date
    handle: str | None
    do: tuple[str, ...] | None
    ears: tuple[str, ...] | None
    version: int | None
    ended: str | None


@needs(Right.LOOK)
def day(desk: Desk, on: date | None = None) -> tuple[BookingRow, ...]:
    """Return a day's appointments in order, moved ones left out, each with its cautions."""
    on = on or desk.today
    with desk.store.read() as session:
        found = [row for row in _on_day(session, on) if row.ended not in _MOVED]
        cases = cases_of(session, sorted({row.person_id for row in found}))
    return tuple(
        BookingRow(
            id=row.id,
            starts_local=row.starts_local,
            minutes=row.minutes,
            person_id=row.person_id,
            ref=row.ref,
            name=f"{row.given_names} {row.family_name}".strip(),
            born=row.born,
            with_=row.handle or "",
            do=row.do or (),
            ears=row.ears or (),
            late_why=row.late_why,
            ended=row.ended or "",
            cautions=tuple(c.words for c in cautions(cases[row.person_id], on)),
            version=row.version or 0,
        )
        for row in found
    )


@needs(Right.LOOK)
def slip(desk: Desk, booking_id: int) -> str:
    """Return the words that go on one appointment: when, who, what to do, what to know first."""
    with desk.store.read() as session:
        starts = row_of(session, tables.Booking, booking_id).starts_local
    row = next(r for r in day(desk, starts.date()) if r.id == booking_id)
    do = ", ".join(word.replace("_", " ") for word in row.do) or "as the plan says"
    lines = [
        f"{say_day(starts.date(), weekday=True)} at {starts:%H:%M}, {row.minutes} minutes",
        f"{row.ref}  {row.name}, born {say_day(row.born)}",
        f"To do ({' and '.join(row.ears) or 'both'}): {do}",
    ]
    if row.late_why:
        lines.append(f"After the latest day: {row.late_why}")
    lines += [f"! {caution}" for caution in row.cautions]
    return "\n".join(lines) + "\n"


@needs(Right.LOOK)
def ics_of_booking(desk: Desk, booking_id: int) -> bytes:
    """Return the calendar file of one booking, for the person."""
    with desk.store.read() as session:
        row = row_of(session, tables.Booking, booking_id)
        made = _appointment(session, row)
    return booking_calendar(made, desk.config.practice, now=desk.now)


@needs(Right.LOOK)
def ics_of_day(desk: Desk) -> bytes:
    """Return the practice's calendar file of the desk's day, by reference."""
    with desk.store.read() as session:
        rows = [row for row in _on_day(session, desk.today) if row.ended not in _MOVED]
        made = [_appointment(session, row, row.ref) for row in rows]
    return day_calendar(made, desk.config.practice, now=desk.now)


def _on_day(session: Session, on: date) -> Sequence[_Booked]:
    start = datetime.combine(on, time())
    how = select(tables.BookingEvent.what).where(
        tables.BookingEvent.booking_id == tables.Booking.id, stands(tables.BookingEvent)
    )
    last = how.order_by(tables.BookingEvent.id.desc()).limit(1).scalar_subquery()
    row = read_as(
        _Booked,
        tables.Booking,
        tables.Person,
        tables.Staff,
        tables.FollowUp,
        ref=tables.Person.ref,
        version=tables.FollowUp.version,
        ended=last,
    )
    wanted = (
        select(row)
        .join_from(tables.Booking, tables.Person, tables.Booking.person_id == tables.Person.id)
        .outerjoin(tables.FollowUp, tables.Booking.follow_up_id == tables.FollowUp.id)
        .outerjoin(tables.Staff, tables.Booking.staff_id == tables.Staff.id)
        .where(tables.Booking.starts_local >= start, stands(tables.Booking))
        .where(tables.Booking.starts_local < start + timedelta(days=1))
        .order_by(tables.Booking.starts_local, tables.Booking.id)
    )
    return session.scalars(wanted).all()


def _appointment(session: Session, row: _Booked | tables.Booking, who: str = "") -> Appointment:
    """Return a booking for a calendar; one that was moved keeps the entry of the first."""
    first, moves = _first(session, row)
    ended = _how(session, row.id)
    return Appointment(
        reference=f"booking-{first}",
        starts_local=row.starts_local,
        zone=row.zone,
        minutes=row.minutes,
        revision=moves + (ended in _OFF),
        is_cancelled=ended in _OFF,
        who=who,
    )


def _first(session: Session, row: _Booked | tables.Booking) -> tuple[int, int]:
    """Return the booking from which this one was moved, and in how many moves."""
    first, moves = row.id, 0
    if row.follow_up_id is None:
        return first, moves
    b = tables.Booking
    wanted = select(b.id).where(b.follow_up_id == row.follow_up_id, b.id < row.id)
    for number in session.scalars(wanted.where(stands(tables.Booking)).order_by(b.id.desc())):
        if _how(session, number) not in _MOVED:
            break
        first, moves = number, moves + 1
    return first, moves


def _how(session: Session, booking_id: int) -> str | None:
    wanted = select(tables.BookingEvent.what).where(
        tables.BookingEvent.booking_id == booking_id, stands(tables.BookingEvent)
    )
    return session.scalar(wanted.order_by(tables.BookingEvent.id.desc()))
