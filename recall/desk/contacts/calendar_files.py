"""Bookings as calendar files, and the slip that goes on one."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.acting import ref_of, row_of, site_of
from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.core.sites import practice_at
from recall.desk.worklists.appointments import MOVED, OFF, BookedRow, booked_on, day
from recall.exchange.icalendar_out import Appointment, booking_calendar, day_calendar
from recall.records import tables
from recall.records.facts.cases import stands
from recall.schedule.calendar import say_day


@needs(Right.LOOK)
def slip(desk: Desk, booking_id: int) -> str:
    """Return the words that go on one appointment: when, who, what to do, what to know first."""
    with desk.store.read() as session:
        starts = row_of(session, tables.Booking, booking_id).starts_local
    row = next(r for r in day(desk, starts.date(), clinical=True) if r.id == booking_id)
    do = ", ".join(word.replace("_", " ") for word in row.do or ()) or "as the plan says"
    lines = [
        f"{say_day(starts.date(), weekday=True)} at {starts:%H:%M}, {row.minutes} minutes",
        f"{row.ref}  {row.name}, born {say_day(row.born)}",
        f"To do ({' and '.join(row.ears or ()) or 'both'}): {do}",
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
        made, site = _appointment(session, row), site_of(session, row.person_id)
    return booking_calendar(made, practice_at(desk.config, site), now=desk.now)


@needs(Right.LOOK)
def ics_of_day(desk: Desk) -> bytes:
    """Return the practice's calendar file of the desk's day, by reference."""
    with desk.store.read() as session:
        only_shown(desk, session)
        made = [
            _appointment(session, row, ref_of(session, row.person_id))
            for row in booked_on(session, desk.today)
            if _how(session, row.id) not in MOVED
        ]
    return day_calendar(made, desk.config.practice, now=desk.now)


def _appointment(session: Session, row: BookedRow | tables.Booking, who: str = "") -> Appointment:
    """Return a booking for a calendar; one that was moved keeps the entry of the first."""
    first, moves = _first(session, row)
    ended = _how(session, row.id)
    return Appointment(
        reference=f"booking-{first}",
        starts_local=row.starts_local,
        zone=row.zone,
        minutes=row.minutes,
        revision=moves + (ended in OFF),
        is_cancelled=ended in OFF,
        who=who,
    )


def _first(session: Session, row: BookedRow | tables.Booking) -> tuple[int, int]:
    """Return the booking from which this one was moved, and in how many moves."""
    first, moves = row.id, 0
    if row.follow_up_id is None:
        return first, moves
    b = tables.Booking
    wanted = select(b.id).where(b.follow_up_id == row.follow_up_id, b.id < row.id)
    for number in session.scalars(wanted.where(stands(tables.Booking)).order_by(b.id.desc())):
        if _how(session, number) not in MOVED:
            break
        first, moves = number, moves + 1
    return first, moves


def _how(session: Session, booking_id: int) -> str | None:
    wanted = select(tables.BookingEvent.what).where(
        tables.BookingEvent.booking_id == booking_id, stands(tables.BookingEvent)
    )
    return session.scalar(wanted.order_by(tables.BookingEvent.id.desc()))
