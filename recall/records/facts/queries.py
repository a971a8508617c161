"""The questions that lists ask: candidates by the search columns, as frozen row views.

The search columns only say where to look; how a follow-up stands on a day is worked out from
its facts before anything is shown as truth or sent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, Select, and_, exists, func, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.tables.statements import read_as

Numbers = InstrumentedAttribute[int]
Test = ColumnElement[bool] | InstrumentedAttribute[bool]


@dataclass(frozen=True)
class Who:
    """What tells a person apart on every list."""

    person_id: int
    ref: str
    given_names: str
    family_name: str
    born: date


@dataclass(frozen=True)
class FollowUpRow(Who):
    """A follow-up as the lists show it."""

    id: int
    earliest: date
    target: date
    latest: date
    urgency: str
    urgency_rank: int
    tracks: tuple[str, ...]
    ears: tuple[str, ...]
    do: tuple[str, ...]
    step: str
    step_no: int
    round: int
    next_step_on: date | None
    offer_on: date | None
    claim_by_id: int | None
    claim_until: datetime | None
    version: int
    is_confirmed: bool
    """False while a visit that asked is imported and nobody has confirmed it."""


@dataclass(frozen=True)
class ReferralRow(Who):
    """A referral as the lists show it."""

    id: int
    to: str
    ears: tuple[str, ...]
    urgency: str
    urgency_rank: int
    stage: str
    chase_on: date | None
    asked_on: date
    sent_by: date
    accepted_by: date
    seen_by: date
    result_by: date
    route: str
    version: int


@dataclass(frozen=True)
class Counts:
    """How long the lists are on a day."""

    to_do: int
    late: int
    to_chase: int
    open_follow_ups: int
    open_referrals: int
    unconfirmed: int


def to_do(session: Session, on: date, limit: int = 500) -> tuple[FollowUpRow, ...]:
    """Return open follow-ups whose next step has come, the most pressing first."""
    return _in_order(session, to_do_select(on).limit(limit))


def late(session: Session, on: date, limit: int = 500) -> tuple[FollowUpRow, ...]:
    """Return open follow-ups past their latest day, booked or not, the most pressing first."""
    return _in_order(session, late_select(on).limit(limit))


def at_step(session: Session, step: str, on: date, limit: int = 500) -> tuple[FollowUpRow, ...]:
    """Return open follow-ups whose next step is this one and has come, the longest first."""
    return _in_order(session, at_step_select(step, on).limit(limit))


def open_for(session: Session, person_id: int) -> tuple[FollowUpRow, ...]:
    """Return one person's open follow-ups, the most pressing first."""
    mine = _rows().where(tables.FollowUp.person_id == person_id, tables.FollowUp.is_open)
    return _follow_ups(session, mine.order_by(*_PRESSING))


def follow_ups(session: Session, ids: Sequence[int]) -> tuple[FollowUpRow, ...]:
    """Return some follow-ups by number, open or not, the most pressing first."""
    return _follow_ups(session, _rows().where(tables.FollowUp.id.in_(ids)).order_by(*_PRESSING))


def stood_on(session: Session, on: date) -> tuple[int, ...]:
    """Return the numbers of follow-ups that stood on any day, past or present."""
    c = tables.FollowUp
    wanted = select(c.id).where(
        c.on <= on, or_(c.is_open, c.closed_on > on), stands(tables.FollowUp)
    )
    return tuple(session.scalars(wanted.order_by(c.urgency_rank, c.latest, c.id)))


def to_chase(session: Session, on: date, limit: int = 500) -> tuple[ReferralRow, ...]:
    """Return open referrals whose day to be chased has come, the most pressing first."""
    return tuple(session.scalars(to_chase_select(on).limit(limit)))


def unconfirmed(session: Session, after: int = 0, limit: int = 500) -> tuple[int, ...]:
    """Return the numbers of imported visits that no clinician has confirmed yet, in order."""
    c = tables.Visit
    wanted = select(c.id).where(c.confirmed_at.is_(None), c.void_at.is_(None), c.id > after)
    return tuple(session.scalars(wanted.order_by(c.id).limit(limit)))


def counts(session: Session, on: date) -> Counts:
    """Return how long the lists are on a day."""
    f, r, v = tables.FollowUp, tables.Referral, tables.Visit
    return Counts(
        to_do=_count(session, f.id, f.is_open, f.next_step_on <= on),
        late=_count(session, f.id, f.is_open, f.latest < on),
        to_chase=_count(session, r.id, r.is_open, r.chase_on <= on),
        open_follow_ups=_count(session, f.id, f.is_open),
        open_referrals=_count(session, r.id, r.is_open),
        unconfirmed=_count(session, v.id, v.confirmed_at.is_(None), v.void_at.is_(None)),
    )


_PRESSING = (tables.FollowUp.urgency_rank, tables.FollowUp.latest, tables.FollowUp.id)


def to_do_select(on: date) -> Select[int]:
    """Return the statement that picks the numbers for `to_do`; a test looks at its plan."""
    c = tables.FollowUp
    return select(c.id).where(c.is_open, c.next_step_on <= on).order_by(*_PRESSING)


def late_select(on: date) -> Select[int]:
    """Return the statement that picks the numbers for `late`."""
    c = tables.FollowUp
    return select(c.id).where(c.is_open, c.latest < on).order_by(*_PRESSING)


def at_step_select(step: str, on: date) -> Select[int]:
    """Return the statement that picks the numbers for `at_step`."""
    c = tables.FollowUp
    held = c.is_open, c.step == step, c.next_step_on <= on
    return select(c.id).where(*held).order_by(c.next_step_on, c.id)


def to_chase_select(on: date) -> Select[ReferralRow]:
    """Return the statement of `to_chase`."""
    c = tables.Referral
    return (
        select(read_as(ReferralRow, tables.Referral, tables.Person))
        .join_from(tables.Referral, tables.Person, c.person_id == tables.Person.id)
        .where(c.is_open, c.chase_on <= on)
        .order_by(c.urgency_rank, c.chase_on, c.id)
    )


def _rows() -> Select[FollowUpRow]:
    """Return the row views of follow-ups, with their people."""
    c = tables.FollowUp
    waits = exists().where(
        tables.FollowUpDue.follow_up_id == c.id,
        tables.FollowUpDue.left_at.is_(None),
        tables.Due.id == tables.FollowUpDue.due_id,
        tables.Due.is_open,
        tables.Visit.id == tables.Due.visit_id,
        and_(tables.Visit.source == "imported", tables.Visit.confirmed_at.is_(None)),
    )
    row = read_as(FollowUpRow, tables.FollowUp, tables.Person, is_confirmed=~waits)
    return select(row).join_from(tables.FollowUp, tables.Person, c.person_id == tables.Person.id)


def _follow_ups(session: Session, wanted: Select[FollowUpRow]) -> tuple[FollowUpRow, ...]:
    return tuple(session.scalars(wanted))


def _in_order(session: Session, picked: Select[int]) -> tuple[FollowUpRow, ...]:
    """Return the rows of the numbers that a statement picks, in its order.

    Picking first keeps the sorting to the index and the person's details to what is shown.
    """
    ids = session.scalars(picked).all()
    rows = {row.id: row for some in pages(ids) for row in follow_ups(session, some)}
    return tuple(rows[number] for number in ids)


def _count(session: Session, column: Numbers, *held: Test) -> int:
    return session.scalar(select(func.count(column)).where(*held)) or 0
