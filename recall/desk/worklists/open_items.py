"""What is open for one person, and how each stands today: follow-ups and referrals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.loop.bookings import open_booking
from recall.loop.contact_steps import STEP
from recall.loop.outlook import outlook
from recall.loop.referral import state
from recall.loop.status import status_on
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.facts.events import facts_for, referral_loops
from recall.schedule.calendar import say_day

_follow_up: Any = tables.FollowUp.__table__
_link: Any = tables.FollowUpDue.__table__
_due: Any = tables.Due.__table__
_referral: Any = tables.Referral.__table__
_booking: Any = tables.Booking.__table__
_ended: Any = tables.BookingEvent.__table__
_staff: Any = tables.Staff.__table__


@dataclass(frozen=True)
class Appointment:
    """When an appointment is, and with whom."""

    starts_local: datetime
    """The practice's wall time."""
    minutes: int
    with_: str
    """The name of who sees them; empty where nobody in particular does."""


@dataclass(frozen=True)
class LooseAppointment(Appointment):
    """An appointment that stands although what it was made for is closed."""

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
    booking_id: int | None
    booked_on: date | None
    appointment: Appointment | None
    ahead: tuple[str, ...]
    """What would follow if nobody were heard from."""


@dataclass(frozen=True)
class OpenReferral:
    """One open referral of a person."""

    id: int
    version: int
    to: str
    ears: tuple[str, ...]
    urgency: str
    route: str
    stage: str
    chase_on: date | None
    why: str
    seen_by: date


def open_follow_ups(desk: Desk, session: Session, person_id: int) -> tuple[OpenFollowUp, ...]:
    """Return a person's open follow-ups, the most pressing first."""
    c = _follow_up.c
    wanted = select(_follow_up).where(c.person_id == person_id, c.is_open, stands(_follow_up))
    rows = session.execute(wanted.order_by(c.urgency_rank, c.latest, c.id)).mappings().all()
    facts = facts_for(session, [row["id"] for row in rows])
    dues = _dues(session, [row["id"] for row in rows])
    booked = [open_booking(facts[row["id"]].events) for row in rows]
    made = appointments(session, [each.booking for each in booked if each])
    return tuple(_open(desk, row, facts[row["id"]], dues.get(row["id"], []), made) for row in rows)


def appointments(session: Session, booking_ids: Sequence[int]) -> dict[int, Appointment]:
    """Return when some appointments are and with whom, by their numbers."""
    if not booking_ids:
        return {}
    b = _booking.c
    wanted = (
        select(b.id, b.starts_local, b.minutes, _staff.c.name)
        .outerjoin_from(_booking, _staff, b.staff_id == _staff.c.id)
        .where(b.id.in_(booking_ids))
    )
    return {
        row.id: Appointment(row.starts_local, row.minutes, row.name or "")
        for row in session.execute(wanted)
    }


def loose_appointments(session: Session, person_id: int, on: date) -> tuple[LooseAppointment, ...]:
    """Return a person's appointments from a day on whose follow-up is closed by now."""
    b = _booking.c
    ended = select(_ended.c.booking_id).where(stands(_ended))
    wanted = (
        select(b.starts_local, b.minutes, func.coalesce(_staff.c.name, ""), b.id)
        .outerjoin_from(_booking, _follow_up, b.follow_up_id == _follow_up.c.id)
        .outerjoin(_staff, b.staff_id == _staff.c.id)
        .where(b.person_id == person_id, stands(_booking), b.id.not_in(ended))
        .where(b.starts_local >= datetime.combine(on, time()))
        .where(or_(_follow_up.c.id.is_(None), ~_follow_up.c.is_open))
        .order_by(b.starts_local, b.id)
    )
    return tuple(LooseAppointment(*row) for row in session.execute(wanted))


def open_referrals(desk: Desk, session: Session, person_id: int) -> tuple[OpenReferral, ...]:
    """Return a person's open referrals, the most pressing first."""
    c = _referral.c
    wanted = select(_referral).where(c.person_id == person_id, c.is_open, stands(_referral))
    rows = session.execute(wanted.order_by(c.urgency_rank, c.id)).mappings().all()
    loops = referral_loops(session, [row["id"] for row in rows])
    found = []
    for row in rows:
        now = state(loops[row["id"]], desk.today, desk.protocol.contact, desk.calendar)
        same = ("id", "version", "to", "ears", "urgency", "route", "seen_by")
        mine = {n: row[n] for n in same}
        found.append(OpenReferral(**mine, stage=now.stage, chase_on=now.chased_on, why=now.why))
    return tuple(found)


def _open(
    desk: Desk, row: Any, facts: Any, dues: list[Any], made: dict[int, Appointment]
) -> OpenFollowUp:
    rules = desk.protocol.contact
    now = status_on(facts, desk.today, rules)
    assert now.step is not None, "an open follow-up always has a step"
    booked = open_booking(facts.events)
    same = ("id", "version", "ears", "tracks", "do", "earliest", "target", "latest", "offer_on")
    ahead = outlook(facts, desk.today, rules)[1:]
    return OpenFollowUp(
        **{n: row[n] for n in same},
        urgency=now.urgency,
        status=now.word,
        late_by_days=now.late_by_days,
        step=now.step.kind,
        on=now.step.on,
        why=now.why,
        says=tuple(dict.fromkeys(d.says for d in dues)),
        says_aloud=tuple(dict.fromkeys(d.says_aloud for d in dues if d.says_aloud)),
        booking_id=booked.booking if booked else None,
        booked_on=booked.day if booked else None,
        appointment=made.get(booked.booking) if booked else None,
        ahead=tuple(f"{say_day(s.on)}: {STEP[s.kind].short}" for s in ahead),
    )


def _dues(session: Session, follow_up_ids: list[int]) -> dict[int, list[Any]]:
    wanted = (
        select(_link.c.follow_up_id, _due.c.says, _due.c.says_aloud)
        .join_from(_link, _due, _link.c.due_id == _due.c.id)
        .where(_link.c.follow_up_id.in_(follow_up_ids), _link.c.left_at.is_(None), _due.c.is_open)
        .order_by(_due.c.latest, _due.c.id)
    )
    found: dict[int, list[Any]] = {}
    for row in session.execute(wanted):
        found.setdefault(row.follow_up_id, []).append(row)
    return found
