"""The work that is open, as the weeks ahead count it: follow-ups, appointments, earlier looks."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime, time
from typing import Any, NamedTuple

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session, aliased

from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import many


class OpenRow(NamedTuple):
    """One open follow-up with whose visit asked for it, by its first due."""

    id: int
    earliest: date
    target: date
    latest: date
    urgency: Any
    does: Any
    step: str
    step_on: date
    round: int
    site: str
    category: str
    asked_on: date
    practitioner: str


class BookedRow(NamedTuple):
    """One appointment that stands."""

    id: int
    starts: datetime
    minutes: int
    who: str
    site: str
    follow_ups: tuple[int, ...]


class LookRow(NamedTuple):
    """A visit that answered a category, with what it asked for next."""

    person: int
    visit: int
    on: date
    category: str


class NextRow(NamedTuple):
    """A re-check that a visit asked for."""

    visit: int
    target: date
    does: Any


def open_rows(session: Session) -> list[OpenRow]:
    """Return every open follow-up, in the order in which they were made."""
    f, p, d, v = tables.FollowUp, tables.Person, tables.Due, tables.Visit
    link, examiner = tables.FollowUpDue, aliased(tables.Staff)
    held = select(link.follow_up_id, func.min(link.due_id).label("due_id"))
    first = held.where(link.left_at.is_(None)).group_by(link.follow_up_id).subquery()
    wanted = (
        select(f.id, f.earliest, f.target, f.latest, f.urgency, f.do, f.step, f.next_step_on)
        .add_columns(f.round, p.site, d.category, d.asked_on)
        .add_columns(func.coalesce(examiner.handle, v.examiner, ""))
        .select_from(f)
        .join(p, p.id == f.person_id)
        .join(first, first.c.follow_up_id == f.id)
        .join(d, d.id == first.c.due_id)
        .outerjoin(v, v.id == d.visit_id)
        .outerjoin(examiner, examiner.id == v.examiner_id)
        .where(f.is_open, stands(f))
        .order_by(f.id)
    )
    return [OpenRow(*row) for row in many(session, wanted)]


def booked_rows(session: Session, first: date) -> list[BookedRow]:
    """Return the appointments from a day on that stand and are not over, in their order."""
    b, s, p, also = tables.Booking, tables.Staff, tables.Person, tables.AlsoAbout
    over = exists().where(tables.BookingEvent.booking_id == b.id, stands(tables.BookingEvent))
    coming = b.starts_local >= datetime.combine(first, time()), stands(b), ~over
    too: dict[int, list[int]] = defaultdict(list)
    linked = select(also.booking_id, also.follow_up_id).join(b, b.id == also.booking_id)
    for booking, follow_up in many(session, linked.where(*coming, stands(also))):
        too[booking or 0].append(follow_up)
    wanted = (
        select(b.id, b.starts_local, b.minutes, func.coalesce(s.handle, ""), p.site)
        .add_columns(b.follow_up_id)
        .join(p, p.id == b.person_id)
        .outerjoin(s, s.id == b.staff_id)
        .where(*coming)
        .order_by(b.starts_local, b.id)
    )
    return [
        BookedRow(number, starts, minutes, who, site, (*([named] if named else []), *too[number]))
        for number, starts, minutes, who, site, named in many(session, wanted)
    ]


def looks(session: Session, first: date, last: date) -> list[LookRow]:
    """Return the visits of some days with each category that they answered, oldest first."""
    e, d, v = tables.DueEvent, tables.Due, tables.Visit
    wanted = (
        select(v.person_id, v.id, v.on, d.category)
        .join_from(e, v, v.id == e.visit_id)
        .join(d, d.id == e.due_id)
        .where(stands(e), stands(v), e.what == "closed", v.on.between(first, last))
        .where(e.reason != "superseded")
        .distinct()
        .order_by(v.on, v.id)
    )
    return [LookRow(*row) for row in many(session, wanted)]


def asked_next(session: Session, first: date, last: date) -> list[NextRow]:
    """Return what the visits of some days asked for next, the soonest of each visit first."""
    d, v = tables.Due, tables.Visit
    wanted = (
        select(v.id, d.target, d.do)
        .join_from(d, v, v.id == d.visit_id)
        .where(stands(d), stands(v), v.on.between(first, last))
        .order_by(v.id, d.target, d.id)
    )
    return [NextRow(*row) for row in many(session, wanted)]
