"""What is open for one person, and how each stands today: follow-ups and referrals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from sqlalchemy import DateTime, Function, bindparam, func, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session, aliased

from recall.care.case import To
from recall.desk.core.session import Desk
from recall.desk.worklists.referral_list import on_day
from recall.loop.booking_rules import open_booking
from recall.loop.facts import Facts
from recall.loop.opening import when_open
from recall.loop.outlook import outlook
from recall.loop.referral_lines import ReferralsLine, referral_lines
from recall.loop.status import status_on
from recall.protocol.contact_steps import STEP
from recall.records import tables
from recall.records.facts.booked import not_ended
from recall.records.facts.cases import pages, stands
from recall.records.facts.events import facts_for
from recall.records.tables.statements import IDS, given, many_now, read_as, whole
from recall.schedule.calendar import say_day

UNSAID = "Something else that is open."
"""Of what may not be said aloud."""


@dataclass(frozen=True)
class Appointment:
    """When an appointment is, and with whom."""

    starts_local: datetime
    """The practice's wall time."""
    minutes: int
    with_: str
    """The name of who sees them; empty where nobody in particular does."""
    handle: str
    """The handle of the same one."""


@dataclass(frozen=True)
class LooseAppointment(Appointment):
    """An appointment that stands for something else, or for what is closed by now."""

    id: int


@dataclass(frozen=True)
class OpenFollowUp:
    """One open follow-up of a person, and how it stands today."""

    id: int
    version: int
    ears: tuple[str, ...]
    tracks: tuple[str, ...]
    do: tuple[str, ...]
    earliest: date
    target: date
    latest: date
    offer_on: date | None
    urgency: str
    status: str
    late_by_days: int
    step: str
    on: date
    why: str
    says: tuple[str, ...]
    says_aloud: tuple[str, ...]
    """What may be said once it is known who they are."""
    aloud: dict[str, tuple[str, ...]]
    """The same, each with its ears; "" of what says nothing."""
    untested: tuple[str, ...]
    """Ears of which nothing but a test of hearing is tried again."""
    booking_id: int | None
    booked_on: date | None
    appointment: Appointment | None
    ahead: tuple[str, ...]
    """What would follow if nobody were heard from."""


@dataclass(frozen=True)
class OpenReferral:
    """What one service is asked at one visit of a person, in one ear or both."""

    id: int
    """The first one's: each of the numbers means all."""
    version: int
    to: To
    ears: tuple[str, ...]
    urgency: str
    route: str
    stage: str
    chase_on: date | None
    why: str
    seen_by: date
    numbers: tuple[int, ...]


def open_follow_ups(desk: Desk, session: Session, person_id: int) -> tuple[OpenFollowUp, ...]:
    """Return a person's open follow-ups, the most pressing first."""
    f = tables.FollowUp
    wanted = select(whole(f)).where(f.person_id == person_id, f.is_open, stands(f))
    rows = session.scalars(wanted.order_by(f.urgency_rank, f.latest, f.id)).all()
    facts = facts_for(session, [row.id for row in rows])
    dues = _dues(session, [row.id for row in rows])
    booked = [open_booking(facts[row.id].events) for row in rows]
    made = appointments(session, [each.booking for each in booked if each])
    return tuple(_open(desk, row, facts[row.id], dues.get(row.id, []), made) for row in rows)


def appointments(session: Session, booking_ids: Sequence[int]) -> dict[int, Appointment]:
    """Return when some appointments are and with whom, by their numbers."""
    if not booking_ids:
        return {}
    return {
        row.id: Appointment(row.starts_local, row.minutes, row.name or "", row.handle or "")
        for row in many_now(session, _APPOINTMENTS, booking_ids)
    }


def appointments_from(
    session: Session, person_ids: Sequence[int], on: date
) -> dict[int, list[LooseAppointment]]:
    """Return the appointments from a day on that stand, of some people, by person and in order."""
    found: dict[int, list[LooseAppointment]] = {}
    start = {"start": datetime.combine(on, time())}
    for some in pages(person_ids):
        for person, *made in session.execute(_AHEAD, {**given(some), **start}):
            found.setdefault(person, []).append(LooseAppointment(*made))
    return found


_B = tables.Booking
_AHEAD = (
    select(_B.person_id, _B.starts_local, _B.minutes)
    .add_columns(func.coalesce(tables.Staff.name, ""), func.coalesce(tables.Staff.handle, ""))
    .add_columns(_B.id)
    .outerjoin_from(_B, tables.Staff, _B.staff_id == tables.Staff.id)
    .where(_B.person_id.in_(IDS), *not_ended())
    .where(_B.starts_local >= bindparam("start", type_=DateTime()))
    .order_by(_B.starts_local, _B.id)
)
_APPOINTMENTS = (
    select(tables.Booking.id, tables.Booking.starts_local, tables.Booking.minutes)
    .add_columns(tables.Staff.name, tables.Staff.handle)
    .outerjoin_from(tables.Booking, tables.Staff, tables.Booking.staff_id == tables.Staff.id)
    .where(tables.Booking.id.in_(IDS))
)


def _or_nobody(column: InstrumentedAttribute[str]) -> Function[str]:
    return func.coalesce(column, "")


def loose_appointments(session: Session, person_id: int, on: date) -> tuple[LooseAppointment, ...]:
    """Return a person's appointments from a day on whose follow-up is closed by now."""
    b = tables.Booking
    a, too = tables.AlsoAbout, aliased(tables.FollowUp)
    other = select(a.booking_id).join_from(tables.AlsoAbout, too, a.follow_up_id == too.id)
    other = other.where(too.person_id == person_id, too.is_open, stands(tables.AlsoAbout))
    wanted = (
        select(b.starts_local, b.minutes, _or_nobody(tables.Staff.name))
        .add_columns(_or_nobody(tables.Staff.handle), b.id)
        .outerjoin_from(tables.Booking, tables.FollowUp, b.follow_up_id == tables.FollowUp.id)
        .outerjoin(tables.Staff, b.staff_id == tables.Staff.id)
        .where(b.person_id == person_id, *not_ended())
        .where(b.starts_local >= datetime.combine(on, time()))
        .where(or_(tables.FollowUp.id.is_(None), ~tables.FollowUp.is_open))
        .where(b.id.not_in(other.where(a.booking_id.is_not(None))))
        .order_by(b.starts_local, b.id)
    )
    return tuple(LooseAppointment(*row) for row in session.execute(wanted))


def open_referrals(desk: Desk, session: Session, person_id: int) -> tuple[OpenReferral, ...]:
    """Return a person's open referrals, the most pressing first."""
    r = tables.Referral
    wanted = select(r.id).where(r.person_id == person_id, r.is_open, stands(r))
    lines = referral_lines(on_day(desk, session, session.scalars(wanted).all()))
    return tuple(_asked(line) for line in lines)


def _asked(line: ReferralsLine) -> OpenReferral:
    first = line.first
    return OpenReferral(
        id=first.number,
        version=first.version,
        to=first.loop.referral.to,
        ears=line.ears,
        urgency=first.loop.referral.urgency,
        route=first.loop.route,
        stage=first.now.stage,
        chase_on=first.now.chased_on,
        why=line.why,
        seen_by=line.seen_by,
        numbers=line.numbers,
    )


TESTS = frozenset({"hearing_test", "tympanometry"})
"""What is done of a hearing test: nobody looks into the ear again for it."""


@dataclass(frozen=True)
class _Said:
    """What a due that is held says, to colleagues and aloud, and of which ear."""

    ear: str
    says: str
    says_aloud: str
    kind: str
    do: tuple[str, ...]


def _open(
    desk: Desk,
    row: tables.FollowUp,
    facts: Facts,
    dues: list[_Said],
    made: dict[int, Appointment],
) -> OpenFollowUp:
    rules = desk.protocol.contact
    now = status_on(facts, desk.today, rules)
    assert now.step is not None, "an open follow-up always has a step"
    booked = open_booking(facts.events)
    steps = (now.step, *outlook(facts, desk.today, rules)[1:])
    step, *ahead = (when_open(each, desk.today, desk.calendar) for each in steps)
    return OpenFollowUp(
        id=row.id,
        version=row.version,
        ears=row.ears,
        tracks=row.tracks,
        do=row.do,
        earliest=row.earliest,
        target=row.target,
        latest=row.latest,
        offer_on=row.offer_on,
        urgency=now.urgency,
        status=now.word,
        late_by_days=now.late_by_days,
        step=step.kind,
        on=step.on,
        why=now.why,
        says=tuple(dict.fromkeys(d.says for d in dues)),
        says_aloud=tuple(dict.fromkeys(d.says_aloud for d in dues if d.says_aloud)),
        aloud=_by_words(dues),
        untested=_untested(dues),
        booking_id=booked.booking if booked else None,
        booked_on=booked.day if booked else None,
        appointment=made.get(booked.booking) if booked else None,
        ahead=tuple(f"{say_day(s.on)}: {STEP[s.kind].short}" for s in ahead),
    )


def _by_words(dues: Sequence[_Said]) -> dict[str, tuple[str, ...]]:
    """Return the ears of what is said, by its words."""
    found: dict[str, dict[str, None]] = {}
    for due in dues:
        found.setdefault(due.says_aloud, {})[due.ear] = None
    return {words: tuple(ears) for words, ears in found.items()}


def _untested(dues: Sequence[_Said]) -> tuple[str, ...]:
    """Return the ears that were looked at as asked, where a test of hearing is still to be done."""
    retried: dict[str, set[str]] = {}
    for due in dues:
        if due.kind == "retry":
            retried.setdefault(due.ear, set()).update(due.do)
    return tuple(ear for ear, do in retried.items() if "hearing_test" in do and do <= TESTS)


def _dues(session: Session, follow_up_ids: list[int]) -> dict[int, list[_Said]]:
    link, due = tables.FollowUpDue, tables.Due
    wanted = (
        select(link.follow_up_id, read_as(_Said, due))
        .join_from(link, due, link.due_id == due.id)
        .where(link.follow_up_id.in_(follow_up_ids), link.left_at.is_(None), due.is_open)
        .order_by(due.latest, due.id)
    )
    found: dict[int, list[_Said]] = {}
    for follow_up_id, said in session.execute(wanted):
        found.setdefault(follow_up_id, []).append(said)
    return found
