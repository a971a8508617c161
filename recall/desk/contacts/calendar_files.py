"""Bookings as calendar files, and a day's appointments with what to know before each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

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
from recall.schedule.calendar import say_day

_booking: Any = tables.Booking.__table__
_ended: Any = tables.BookingEvent.__table__
_person: Any = tables.Person.__table__
_follow_up: Any = tables.FollowUp.__table__
_staff: Any = tables.Staff.__table__
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


@needs(Right.LOOK)
def day(desk: Desk, on: date | None = None) -> tuple[BookingRow, ...]:
    """Return a day's appointments in order, moved ones left out, each with its cautions."""
    on = on or desk.today
    with desk.store.read() as session:
        found = [row for row in _on_day(session, on) if row["ended"] not in _MOVED]
        cases = cases_of(session, sorted({row["person_id"] for row in found}))
    names = [f for f in BookingRow.__dataclass_fields__ if f not in ("name", "cautions")]
    return tuple(
        BookingRow(
            **{n: row[n] for n in names},
            name=f"{row['given_names']} {row['family_name']}".strip(),
            cautions=tuple(c.words for c in cautions(cases[row["person_id"]], on)),
        )
        for row in found
    )


@needs(Right.LOOK)
def slip(desk: Desk, booking_id: int) -> str:
    """Return the words that go on one appointment: when, who, what to do, what to know first."""
    with desk.store.read() as session:
        starts = row_of(session, "booking", booking_id)["starts_local"]
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
        row = row_of(session, "booking", booking_id)
        made = _appointment(session, row)
    return booking_calendar(made, desk.config.practice, now=desk.now)


@needs(Right.LOOK)
def ics_of_day(desk: Desk, on: date | None = None) -> bytes:
    """Return the practice's calendar file of a day, by reference."""
    on = on or desk.today
    with desk.store.read() as session:
        rows = [row for row in _on_day(session, on) if row["ended"] not in _MOVED]
        made = [_appointment(session, row, row["ref"]) for row in rows]
    return day_calendar(made, desk.config.practice, now=desk.now)


def _on_day(session: Session, on: date) -> list[Any]:
    start = datetime.combine(on, time())
    how = select(_ended.c.what).where(_ended.c.booking_id == _booking.c.id, stands(_ended))
    last = how.order_by(_ended.c.id.desc()).limit(1).scalar_subquery()
    wanted = (
        select(
            _booking,
            *(_person.c[n] for n in ("given_names", "family_name", "born")),
            _person.c.ref.label("person_ref"),
            _staff.c.handle,
            _follow_up.c.do,
            _follow_up.c.ears,
            _follow_up.c.version,
            last.label("how"),
        )
        .join_from(_booking, _person, _booking.c.person_id == _person.c.id)
        .outerjoin(_follow_up, _booking.c.follow_up_id == _follow_up.c.id)
        .outerjoin(_staff, _booking.c.staff_id == _staff.c.id)
        .where(_booking.c.starts_local >= start, stands(_booking))
        .where(_booking.c.starts_local < start + timedelta(days=1))
        .order_by(_booking.c.starts_local, _booking.c.id)
    )
    rows = session.execute(wanted).mappings()
    more = ("how", "handle", "do", "ears", "version", "person_ref")
    return [
        {
            **{n: v for n, v in row.items() if n not in more},
            "ref": row["person_ref"],
            "ended": row["how"] or "",
            "with_": row["handle"] or "",
            "do": row["do"] or (),
            "ears": row["ears"] or (),
            "version": row["version"] or 0,
        }
        for row in rows
    ]


def _appointment(session: Session, row: Any, who: str = "") -> Appointment:
    """Return a booking for a calendar; one that was moved keeps the entry of the first."""
    first, moves = _first(session, row)
    ended = _how(session, row["id"])
    return Appointment(
        reference=f"booking-{first}",
        starts_local=row["starts_local"],
        zone=row["zone"],
        minutes=row["minutes"],
        revision=moves + (ended in _OFF),
        is_cancelled=ended in _OFF,
        who=who,
    )


def _first(session: Session, row: Any) -> tuple[int, int]:
    """Return the booking from which this one was moved, and in how many moves."""
    first, moves = row["id"], 0
    if row["follow_up_id"] is None:
        return first, moves
    b = _booking.c
    wanted = select(b.id).where(b.follow_up_id == row["follow_up_id"], b.id < row["id"])
    for number in session.scalars(wanted.where(stands(_booking)).order_by(b.id.desc())):
        if _how(session, number) not in _MOVED:
            break
        first, moves = number, moves + 1
    return first, moves


def _how(session: Session, booking_id: int) -> str | None:
    wanted = select(_ended.c.what).where(_ended.c.booking_id == booking_id, stands(_ended))
    found: str | None = session.scalar(wanted.order_by(_ended.c.id.desc()))
    return found
