"""Who would come earlier, in order, when an appointment is called off and its time falls free."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from recall.desk.core.acting import row_of
from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.person_lookup import person_id
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.taken import AS_FAR, Time, taken_words
from recall.records import tables
from recall.records.facts.booked import not_ended
from recall.records.facts.candidates import of_sites
from recall.records.facts.cases import stands
from recall.records.tables.statements import read_as
from recall.schedule.calendar import say_day

_OVER = "cancelled_by_person", "cancelled_by_practice", "moved_by_person", "moved_by_practice"
"""How an appointment ends that leaves its time free."""
TOLD = 3
"""How many are named in a sentence; the list has all."""


@dataclass(frozen=True)
class _Wish:
    """An appointment whose person would come earlier."""

    id: int
    person_id: int
    starts_local: datetime
    minutes: int
    earlier: str
    staff_id: int | None
    with_: str
    earliest: date
    latest: date
    urgency: str
    do: tuple[str, ...]


@dataclass(frozen=True)
class EarlierWish(_Wish):
    """The same with whom to ring."""

    ref: str
    name: str
    born: date
    postcode: str
    ask_for: str
    number: str
    """Empty where none may be rung."""

    @property
    def words(self) -> str:
        """Return whom to ring on which number, their words, and when they would come so far."""
        ring = self.number or "no number"
        so_far = say_day(self.starts_local.date())
        return f"{self.name} ({self.ref}), {ring}: {self.earlier}; booked for {so_far}"


@dataclass(frozen=True)
class Freed:
    """A time that was called off, and who may be offered it."""

    starts_local: datetime
    minutes: int
    words: str
    """That it is free as far as the bookings here tell, or why it is not offered."""
    wishes: tuple[EarlierWish, ...] = ()

    @property
    def told(self) -> str:
        """Return the words with the first to ring; nothing where nobody would come."""
        if not self.wishes:
            return ""
        first = "; ".join(f"{n}. {w.words}" for n, w in enumerate(self.wishes[:TOLD], 1))
        return f"{self.words} Would come earlier: {first}."


@needs(Right.REACH)
def freed(desk: Desk, booking_id: int) -> Freed:
    """Return who would take the time of an appointment that was called off, in order.

    The most urgent come first, then whose latest day is the nearest, then who has waited
    longest. Left out is who may not be contacted, whose follow-up would be met too early, who
    needs more time, and who is to be seen by somebody else.

    Raises:
        NotFound: no such appointment.
    """
    with desk.store.read() as session:
        old = row_of(session, tables.Booking, booking_id)
        at = Time(old.starts_local, old.minutes, old.staff_id)
        why_not = _why_not(desk, session, at, booking_id)
        if why_not:
            return Freed(at.starts_local, at.minutes, why_not)
        only_shown(desk, session)
        whose = session.scalar(select(tables.Staff.handle).where(tables.Staff.id == old.staff_id))
        wishes = _wishes(session, at)
        numbers = [wish.person_id for wish in wishes]
        people = person_headers(session, numbers, desk.today, desk.protocol.contact)
    able = [w for w in wishes if people[w.person_id].contact_stopped is None]
    with_ = f" with {whose}" if whose else ""
    words = f"{_say(at.starts_local)}{with_} is free, {AS_FAR}."
    rows = tuple(_with_person(wish, people[wish.person_id]) for wish in able)
    return Freed(at.starts_local, at.minutes, words, rows)


@needs(Right.REACH)
def called_off(desk: Desk, ref: str) -> list[int]:
    """Return a person's appointments that were called off and whose time has not gone by.

    Raises:
        NotFound: nobody has this reference.
    """
    b, e = tables.Booking, tables.BookingEvent
    now = desk.now.astimezone(ZoneInfo(desk.config.calendar.time_zone)).replace(tzinfo=None)
    off = select(e.booking_id).where(stands(e), e.what.in_(_OVER))
    with desk.store.read() as session:
        wanted = select(b.id).where(
            b.person_id == person_id(session, ref), stands(b), b.id.in_(off)
        )
        return list(session.scalars(wanted.where(b.starts_local > now).order_by(b.id)))


def _why_not(desk: Desk, session: Session, at: Time, booking_id: int) -> str:
    """Return why a time is not offered; nothing where it may be."""
    now = desk.now.astimezone(ZoneInfo(desk.config.calendar.time_zone)).replace(tzinfo=None)
    if at.starts_local <= now:
        return f"{_say(at.starts_local)} has gone by."
    over = select(tables.BookingEvent.id).where(
        tables.BookingEvent.booking_id == booking_id, stands(tables.BookingEvent)
    )
    if session.scalar(over) is None:
        return "This appointment stands."
    return taken_words(session, at)


def _wishes(session: Session, at: Time) -> list[_Wish]:
    b, f = tables.Booking, tables.FollowUp
    row = read_as(_Wish, b, f, tables.Staff, with_=func.coalesce(tables.Staff.handle, ""))
    wanted = (
        select(row)
        .join_from(b, f, b.follow_up_id == f.id)
        .outerjoin(tables.Staff, b.staff_id == tables.Staff.id)
        .where(*not_ended(), b.earlier != "", f.is_open)
        .where(b.starts_local > at.starts_local, b.minutes <= at.minutes)
        .where(f.earliest <= at.starts_local.date(), *of_sites(session, b.person_id))
        .order_by(f.urgency_rank, f.latest, b.id)
    )
    if at.staff_id is not None:
        wanted = wanted.where(or_(b.staff_id == at.staff_id, b.staff_id.is_(None)))
    return list(session.scalars(wanted))


def _with_person(wish: _Wish, who: PersonHeader) -> EarlierWish:
    return EarlierWish(
        **vars(wish),
        ref=who.reference,
        name=who.name,
        born=who.born,
        postcode=who.postcode,
        ask_for=who.ask_for,
        number=who.number,
    )


def _say(starts: datetime) -> str:
    return f"{starts:%H:%M} on {say_day(starts.date(), weekday=True)}"
