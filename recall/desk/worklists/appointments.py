"""A day's appointments: who comes when and with whom, what it meets, what to know, who came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime, time, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.visits.cautions import cautions
from recall.desk.worklists.open_items import UNSAID, OpenFollowUp, open_follow_ups
from recall.records import tables
from recall.records.facts.candidates import of_sites
from recall.records.facts.cases import cases_of, pages, stands
from recall.records.tables.statements import read_as
from recall.schedule.calendar import say_day

MOVED = frozenset({"moved_by_person", "moved_by_practice"})
OFF = frozenset({"cancelled_by_person", "cancelled_by_practice"})


@dataclass(frozen=True)
class BookedRow:
    """A booking with what stands beside it; it may have no follow-up and nobody named."""

    id: int
    person_id: int
    follow_up_id: int | None
    starts_local: datetime
    zone: str
    minutes: int
    late_why: str
    earlier: str
    """When they would come earlier; empty is no wish."""
    staff_id: int | None
    with_: str
    """The handle of who sees them; empty where nobody in particular does."""
    earliest: date | None
    latest: date | None
    do: tuple[str, ...] | None
    ears: tuple[str, ...] | None
    version: int

    @property
    def ends_local(self) -> datetime:
        """Return when it is over."""
        return self.starts_local + timedelta(minutes=self.minutes)


@dataclass(frozen=True)
class AppointmentRow(BookedRow):
    """One appointment as the day's list shows it."""

    ref: str
    name: str
    born: date
    site: str
    """The handle of the site the person belongs to; empty: to all."""
    postcode: str
    ask_for: str
    number: str
    meets: tuple[str, ...]
    """What of the person's is open and this appointment is about."""
    meets_not: tuple[str, ...]
    """What else of the person's is open, with the day from which it is due."""
    cautions: tuple[str, ...]
    """What to mind before the ear is treated; told where it is clinical alone."""
    is_minded: bool
    """Whether there is any, told or not."""
    warnings: tuple[str, ...]
    """What to know of the person before they are spoken to, or come."""
    contact_stopped: str | None
    ended: str
    """How it ended; empty while it stands."""
    entered_late: bool
    """Whether how it ended was typed in on a later day."""

    @property
    def is_off(self) -> bool:
        """Return whether it was called off, so that its time may be free."""
        return self.ended in OFF


@dataclass(frozen=True)
class Ended:
    """How a booking ended."""

    what: str
    on: date
    recorded_at: datetime


@needs(Right.LOOK)
def day(
    desk: Desk, on: date | None = None, *, clinical: bool | None = None
) -> tuple[AppointmentRow, ...]:
    """Return a day's appointments in order, moved ones left out.

    Args:
        desk: who looks, on which day.
        on: which day; today where left out.
        clinical: say what is to be minded and what it meets as colleagues say it, and not only
            what may be said aloud; where left out, to whoever examines ears.
    """
    on = on or desk.today
    clinical = desk.by.may_decide if clinical is None else clinical
    with desk.store.read() as session:
        only_shown(desk, session)
        booked = booked_on(session, on)
        how = ended(session, [row.id for row in booked])
        kept = [row for row in booked if row.id not in how or how[row.id].what not in MOVED]
        too = _also_met(session, [row.id for row in kept])
        numbers = sorted({row.person_id for row in kept})
        cases = cases_of(session, numbers)
        people = person_headers(session, numbers, desk.today, desk.protocol.contact)
        open_ = {number: open_follow_ups(desk, session, number) for number in numbers}
    know = {number: tuple(c.words for c in cautions(cases[number], on)) for number in numbers}
    return tuple(
        _row(
            desk,
            row,
            people[row.person_id],
            how.get(row.id),
            _Plans(open_[row.person_id], too, clinical),
            know,
        )
        for row in kept
    )


@dataclass(frozen=True)
class _Plans:
    """What is open for a person, and what appointments are about beside what they were made for."""

    open: Sequence[OpenFollowUp]
    too: frozenset[tuple[int, int]]
    """Pairs of an appointment and a follow-up, however the appointment ended."""
    clinical: bool

    def said(self, row: OpenFollowUp) -> tuple[str, ...]:
        """Return what something open is, to colleagues or as it may be said aloud."""
        return row.says if self.clinical else row.says_aloud or (UNSAID,)

    def met_by(self, booked: BookedRow) -> list[OpenFollowUp]:
        """Return what an appointment meets, or would have met."""
        return [
            f
            for f in self.open
            if booked.id == f.booking_id
            or booked.follow_up_id == f.id
            or (booked.id, f.id) in self.too
        ]


def _also_met(session: Session, booking_ids: Sequence[int]) -> frozenset[tuple[int, int]]:
    a = tables.AlsoAbout
    found: set[tuple[int, int]] = set()
    for some in pages(booking_ids):
        wanted = select(a.booking_id, a.follow_up_id).where(a.booking_id.in_(some), stands(a))
        found |= {(booking, number) for booking, number in session.execute(wanted) if booking}
    return frozenset(found)


def _row(
    desk: Desk,
    booked: BookedRow,
    who: PersonHeader,
    how: Ended | None,
    plans: _Plans,
    know: dict[int, tuple[str, ...]],
) -> AppointmentRow:
    mine = plans.met_by(booked)
    return AppointmentRow(
        **{each.name: getattr(booked, each.name) for each in fields(BookedRow)},
        ref=who.reference,
        name=who.name,
        born=who.born,
        site=who.site,
        postcode=who.postcode,
        ask_for=who.ask_for,
        number=who.number,
        meets=tuple(dict.fromkeys(said for f in mine for said in plans.said(f))),
        meets_not=tuple(
            f"{said} {_from(f)}" for f in plans.open if f not in mine for said in plans.said(f)
        ),
        cautions=know[booked.person_id] if plans.clinical else (),
        is_minded=bool(know[booked.person_id]),
        warnings=who.warnings,
        contact_stopped=who.contact_stopped,
        ended=how.what if how else "",
        entered_late=how is not None and desk.clock.day_of(how.recorded_at) > how.on,
    )


def _from(row: OpenFollowUp) -> str:
    return f"From {say_day(row.earliest)} to {say_day(row.latest)}."


def booked_on(session: Session, on: date) -> list[BookedRow]:
    """Return the bookings of a day in order, however they ended."""
    start = datetime.combine(on, time())
    row = read_as(
        BookedRow,
        *(tables.Booking, tables.Staff, tables.FollowUp),
        with_=func.coalesce(tables.Staff.handle, ""),
        version=func.coalesce(tables.FollowUp.version, 0),
    )
    wanted = (
        select(row)
        .outerjoin_from(tables.Booking, tables.Staff, tables.Booking.staff_id == tables.Staff.id)
        .outerjoin(tables.FollowUp, tables.Booking.follow_up_id == tables.FollowUp.id)
        .where(tables.Booking.starts_local >= start, stands(tables.Booking))
        .where(tables.Booking.starts_local < start + timedelta(days=1))
        .where(*of_sites(session, tables.Booking.person_id))
        .order_by(tables.Booking.starts_local, tables.Booking.id)
    )
    return list(session.scalars(wanted))


def ended(session: Session, booking_ids: Sequence[int]) -> dict[int, Ended]:
    """Return how some bookings ended; one that stands is not among them."""
    e = tables.BookingEvent
    wanted = select(e.booking_id, e.what, e.on, e.recorded_at).where(stands(e)).order_by(e.id)
    found: dict[int, Ended] = {}
    for some in pages(booking_ids):
        for number, what, on, at in session.execute(wanted.where(e.booking_id.in_(some))):
            found[number] = Ended(what, on, at)
    return found
