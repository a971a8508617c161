"""The questions that lists ask: candidates by the search columns, as frozen row views.

The search columns only say where to look; how a follow-up stands on a day is worked out from
its facts before anything is shown as truth or sent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime
from typing import Any

from sqlalchemy import Select, and_, exists, func, or_, select
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.facts.cases import pages, stands

_follow_up: Any = tables.FollowUp.__table__
_link: Any = tables.FollowUpDue.__table__
_due: Any = tables.Due.__table__
_visit: Any = tables.Visit.__table__
_person: Any = tables.Person.__table__
_referral: Any = tables.Referral.__table__


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
    mine = _rows().where(_follow_up.c.person_id == person_id, _follow_up.c.is_open)
    return _follow_ups(session, mine.order_by(*_PRESSING))


def follow_ups(session: Session, ids: Sequence[int]) -> tuple[FollowUpRow, ...]:
    """Return some follow-ups by number, open or not, the most pressing first."""
    return _follow_ups(session, _rows().where(_follow_up.c.id.in_(ids)).order_by(*_PRESSING))


def stood_on(session: Session, on: date) -> tuple[int, ...]:
    """Return the numbers of follow-ups that stood on any day, past or present."""
    c = _follow_up.c
    wanted = select(c.id).where(c.on <= on, or_(c.is_open, c.closed_on > on), stands(_follow_up))
    return tuple(session.scalars(wanted.order_by(c.urgency_rank, c.latest, c.id)))


def to_chase(session: Session, on: date, limit: int = 500) -> tuple[ReferralRow, ...]:
    """Return open referrals whose day to be chased has come, the most pressing first."""
    rows = session.execute(to_chase_select(on).limit(limit))
    return tuple(ReferralRow(**row._mapping) for row in rows)


def unconfirmed(session: Session, after: int = 0, limit: int = 500) -> tuple[int, ...]:
    """Return the numbers of imported visits that no clinician has confirmed yet, in order."""
    c = _visit.c
    wanted = select(c.id).where(c.confirmed_at.is_(None), c.void_at.is_(None), c.id > after)
    return tuple(session.scalars(wanted.order_by(c.id).limit(limit)))


def counts(session: Session, on: date) -> Counts:
    """Return how long the lists are on a day."""
    f, r, v = _follow_up.c, _referral.c, _visit.c
    return Counts(
        to_do=_count(session, f.id, f.is_open, f.next_step_on <= on),
        late=_count(session, f.id, f.is_open, f.latest < on),
        to_chase=_count(session, r.id, r.is_open, r.chase_on <= on),
        open_follow_ups=_count(session, f.id, f.is_open),
        open_referrals=_count(session, r.id, r.is_open),
        unconfirmed=_count(session, v.id, v.confirmed_at.is_(None), v.void_at.is_(None)),
    )


_PRESSING = (_follow_up.c.urgency_rank, _follow_up.c.latest, _follow_up.c.id)


def to_do_select(on: date) -> Select[Any]:
    """Return the statement that picks the numbers for `to_do`; a test looks at its plan."""
    c = _follow_up.c
    return select(c.id).where(c.is_open, c.next_step_on <= on).order_by(*_PRESSING)


def late_select(on: date) -> Select[Any]:
    """Return the statement that picks the numbers for `late`."""
    c = _follow_up.c
    return select(c.id).where(c.is_open, c.latest < on).order_by(*_PRESSING)


def at_step_select(step: str, on: date) -> Select[Any]:
    """Return the statement that picks the numbers for `at_step`."""
    c = _follow_up.c
    held = c.is_open, c.step == step, c.next_step_on <= on
    return select(c.id).where(*held).order_by(c.next_step_on, c.id)


def to_chase_select(on: date) -> Select[Any]:
    """Return the statement of `to_chase`."""
    c = _referral.c
    own = [c[f.name] for f in fields(ReferralRow) if f.name in c]
    return (
        select(*own, *_who())
        .join_from(_referral, _person, c.person_id == _person.c.id)
        .where(c.is_open, c.chase_on <= on)
        .order_by(c.urgency_rank, c.chase_on, c.id)
    )


def _who() -> list[Any]:
    return [_person.c[n] for n in ("ref", "given_names", "family_name", "born")]


def _rows() -> Select[Any]:
    """Return the columns of a follow-up's row view, with its person."""
    c = _follow_up.c
    own = [c[f.name] for f in fields(FollowUpRow) if f.name in c]
    waits = exists().where(
        _link.c.follow_up_id == c.id,
        _link.c.left_at.is_(None),
        _due.c.id == _link.c.due_id,
        _due.c.is_open,
        _visit.c.id == _due.c.visit_id,
        and_(_visit.c.source == "imported", _visit.c.confirmed_at.is_(None)),
    )
    return select(*own, *_who(), (~waits).label("is_confirmed")).join_from(
        _follow_up, _person, c.person_id == _person.c.id
    )


def _follow_ups(session: Session, wanted: Select[Any]) -> tuple[FollowUpRow, ...]:
    return tuple(FollowUpRow(**row._mapping) for row in session.execute(wanted))


def _in_order(session: Session, picked: Select[Any]) -> tuple[FollowUpRow, ...]:
    """Return the rows of the numbers that a statement picks, in its order.

    Picking first keeps the sorting to the index and the person's details to what is shown.
    """
    ids = session.scalars(picked).all()
    rows = {row.id: row for some in pages(ids) for row in follow_ups(session, some)}
    return tuple(rows[number] for number in ids)


def _count(session: Session, column: Any, *held: Any) -> int:
    return session.scalar(select(func.count(column)).where(*held)) or 0
