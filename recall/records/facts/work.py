"""The work that is open, as the weeks ahead count it: follow-ups, appointments, earlier looks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date, datetime, time
from typing import Any, NamedTuple

from sqlalchemy import DateTime, Select, bindparam, exists, func, select
from sqlalchemy.orm import Session, aliased

from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.tables.statements import many

KEPT = "attended"


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
    category: str


class EndedRow(NamedTuple):
    """An appointment that was kept or missed."""

    person: int
    on: date
    missed: bool


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
    values = {"since": datetime.combine(first, time())}
    ask = session.connection().execute
    too: dict[int, list[int]] = defaultdict(list)
    for booking, follow_up in ask(_TOO, values):
        too[booking or 0].append(follow_up)
    return [
        BookedRow(number, starts, minutes, who, site, (*([named] if named else []), *too[number]))
        for number, starts, minutes, who, site, named in ask(_COMING, values)
    ]


def _coming() -> tuple[Select[*tuple[Any, ...]], Select[*tuple[Any, ...]]]:
    """Return what stands from an instant on, and what else each is about: both are made once."""
    b, s, p, also = tables.Booking, tables.Staff, tables.Person, tables.AlsoAbout
    over = exists().where(tables.BookingEvent.booking_id == b.id, stands(tables.BookingEvent))
    coming = b.starts_local >= bindparam("since", type_=DateTime()), stands(b), ~over
    linked = select(also.booking_id, also.follow_up_id).join(b, b.id == also.booking_id)
    wanted = (
        select(b.id, b.starts_local, b.minutes, func.coalesce(s.handle, ""), p.site)
        .add_columns(b.follow_up_id)
        .join(p, p.id == b.person_id)
        .outerjoin(s, s.id == b.staff_id)
        .where(*coming)
        .order_by(b.starts_local, b.id)
    )
    return wanted, linked.where(*coming, stands(also))


_COMING, _TOO = _coming()


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
        select(v.id, d.target, d.do, d.category)
        .join_from(d, v, v.id == d.visit_id)
        .where(stands(d), stands(v), v.on.between(first, last))
        .order_by(v.id, d.target, d.id)
    )
    return [NextRow(*row) for row in many(session, wanted)]


def first_ended(session: Session, first: date, last: date, missed: Iterable[str]) -> list[EndedRow]:
    """Return of each person the first appointment of some days that was kept or missed."""
    b, e = tables.Booking, tables.BookingEvent
    words = sorted(missed)
    wanted = (
        select(b.person_id, b.starts_local, e.what.in_(words))
        .join_from(e, b, b.id == e.booking_id)
        .where(stands(b), stands(e), e.what.in_([KEPT, *words]))
        .where(b.starts_local >= datetime.combine(first, time()))
        .where(b.starts_local < datetime.combine(last, time()))
        .order_by(b.starts_local.desc(), b.id.desc())
    )
    firsts = {who: EndedRow(who, on.date(), away) for who, on, away in many(session, wanted)}
    return list(firsts.values())


def next_appointments(session: Session, after: Mapping[int, date]) -> dict[int, date]:
    """Return the first standing appointment of each person after a day."""
    b = tables.Booking
    found: dict[int, date] = {}
    for some in pages(sorted(after)):
        wanted = select(b.person_id, b.starts_local).where(stands(b), b.person_id.in_(some))
        for who, starts in many(session, wanted.order_by(b.starts_local)):
            if starts.date() > after[who]:
                found.setdefault(who, starts.date())
    return found
