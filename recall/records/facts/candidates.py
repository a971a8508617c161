"""Where to look for a day's lists: the search columns, through their partial indexes.

This is the one way to the candidates. Tables and columns go by bare names, so that whoever
opens the desk does not wait for the mapped ones; a test holds the names against those.
Nothing is put in order here: that is the loop's, and an ORDER BY would tempt the planner
away from the indexes.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import date, datetime
from itertools import starmap
from typing import Any, Literal, cast

import msgspec
from sqlalchemy import (
    BindParameter,
    Boolean,
    ColumnElement,
    Date,
    DateTime,
    Integer,
    Select,
    SQLColumnExpression,
    String,
    TableClause,
    bindparam,
    column,
    exists,
    func,
    or_,
    select,
    table,
)
from sqlalchemy.orm import Session

from recall.care.case import URGENCIES
from recall.protocol.contact_steps import LOOK_THROUGH
from recall.records.database.plain import as_kept, by_session
from recall.records.facts import first_counts

FOLLOW_UPS = table(
    "follow_up",
    column("id", Integer),
    column("person_id", Integer),
    column("is_open", Boolean),
    column("void_at", DateTime),
    column("urgency_rank", Integer),
    column("step", String),
    column("next_step_on", Date),
    column("latest", Date),
    column("earliest", Date),
)
PEOPLE = table("person", column("id", Integer), column("site", String), column("born", Date))
TO_PLAN = table("to_plan", column("person_id", Integer))
REFERRALS = table(
    "referral",
    column("id", Integer),
    column("is_open", Boolean),
    column("void_at", DateTime),
    column("chase_on", Date),
    column("stage", String),
    column("person_id", Integer),
    column("to", String),
    column("asked_on", Date),
    column("urgency", String),
    column("route", String),
)
MILDER = table(
    "milder_line",
    column("person_id", Integer),
    column("seen_at", DateTime),
    column("void_at", DateTime),
)
_LEFT_OUT = "left_out"
"""Of a session that reads a list: the sites whose people are left out."""
_f = FOLLOW_UPS.c
KEPT = _f.id, _f.person_id, _f.urgency_rank, _f.step, _f.next_step_on, _f.latest
ON: BindParameter[date] = bindparam("on", type_=Date())
STEPS: BindParameter[Any] = bindparam("steps", expanding=True)
OPEN: tuple[ColumnElement[bool], ...] = _f.is_open, _f.void_at.is_(None)
# Each is made once: for a small practice making one takes longer than asking it does.
_SETTLED = select(_f.urgency_rank, _f.latest, _f.next_step_on, _f.person_id, _f.id).where(
    *OPEN,
    *(_f.next_step_on <= ON, _f.step.in_(STEPS)),
    _f.latest >= bindparam("live", type_=Date()),
)
_NOT_PLANNED = select(TO_PLAN.c.person_id)
_SOME = 500
_RANKS = frozenset(range(len(URGENCIES)))
PersonNumber = SQLColumnExpression[int] | SQLColumnExpression[int | None]
"""The column that holds a person's number."""
Which = Literal["come", "late", "open", "history"]
"""Whose next step has come by a day, who is past the latest day, all that is open, what is of
before the practice went live."""


Settled = tuple[int, str, str, int, int]
"""Urgency's rank, latest day, day of the next step, person and follow-up: days as they are kept,
which are in the order of the days."""


class Candidate(msgspec.Struct, frozen=True, gc=False):
    """An open follow-up as its search columns have it."""

    id: int
    person_id: int
    urgency_rank: int
    step: str
    next_step_on: date
    latest: date


def leave_out_sites(session: Session, sites: Collection[str]) -> None:
    """Let the lists that a session reads leave out the people of some sites of the practice."""
    session.info[_LEFT_OUT] = sorted(sites)


def left_out_sites(session: Session) -> list[str]:
    """Return the sites whose people the lists that a session reads leave out."""
    found: list[str] = session.info.get(_LEFT_OUT, [])
    return found


def of_sites(session: Session, person: PersonNumber) -> tuple[ColumnElement[bool], ...]:
    """Return the condition that a person, by the column of their number, is not left out.

    Looked up by the person's number for each row, so that a list is found by its own index.
    """
    return not_of(left_out_sites(session), person)


def not_of(sites: Collection[str], person: PersonNumber) -> tuple[ColumnElement[bool], ...]:
    """Return the same where some sites are left out."""
    if not sites:
        return ()
    home = PEOPLE.alias("home")
    return (~exists().where(home.c.id == person, home.c.site.in_(sites)),)


def _shown(session: Session, wanted: Select[Any], person: PersonNumber) -> Select[Any]:
    held = of_sites(session, person)
    return wanted.where(*held) if held else wanted


def candidates(
    session: Session,
    which: Which,
    on: date,
    steps: Collection[str] = (),
    besides: Collection[int] = (),
    live: date | None = None,
) -> Iterator[Candidate]:
    """Give the open follow-ups that a day's list may hold, in no order.

    Where the practice went live on a day, what is known to be of before it is left out.

    Where `steps` are given, only those at one of them, those of people to be planned again, and
    those that are named `besides`.
    """
    c = FOLLOW_UPS.c
    wanted = select(c.id, c.person_id, c.urgency_rank, c.step, c.next_step_on, c.latest)
    wanted = wanted.where(*_held(which, on, live), *of_sites(session, c.person_id))
    if steps:
        to_plan = c.person_id.in_(select(TO_PLAN.c.person_id))
        wanted = wanted.where(
            or_(c.step.in_(steps), to_plan, *([c.id.in_(besides)] if besides else []))
        )
    # The driver's rows, some at a time: a session would look at each value once more.
    for some in session.connection().execute(wanted).partitions(_SOME):
        yield from starmap(Candidate, some)


def settled(
    session: Session, on: date, steps: Collection[str], live: date | None = None
) -> list[Settled]:
    """Return the open follow-ups whose next step is one of some and has come, in no order.

    The driver's own rows, which compare as they are: tens of thousands are put in order at a key.

    Raises:
        ValueError: a day or an urgency is none.
    """
    values = {"on": on, "steps": list(steps), "live": live or date.min}
    wanted = _shown(session, _SETTLED, _f.person_id)
    rows = cast(list[Settled], as_kept(session.connection(), wanted, values))
    if rows:
        ranks, latest, steps_on, *_ = map(set, zip(*rows, strict=True))
        for day in latest | steps_on:
            date.fromisoformat(day)
        if not ranks <= _RANKS:
            raise ValueError("An urgency is none.")
    return rows


def not_planned(session: Session) -> frozenset[int]:
    """Return the people who changed and are not planned again: their columns are old."""
    return frozenset(session.scalars(_NOT_PLANNED))


def last_change(session: Session) -> datetime | None:
    """Return the instant at which the register was changed last."""
    return first_counts.last_change(by_session(session))


def settled_for(session: Session) -> date | None:
    """Return the day of going live for which the search columns were worked out last."""
    return first_counts.settled_for(by_session(session))


def to_chase(session: Session, on: date | None, live: date | None = None) -> list[int]:
    """Return the open referrals whose day to be chased has come by a day; all without one."""
    wanted = select(REFERRALS.c.id).where(*_chased(on, live))
    return list(session.scalars(_shown(session, wanted, REFERRALS.c.person_id)))


def milder_unseen(session: Session) -> int:
    """Return how many lines that a correction made milder wait for a second person."""
    return _count(session, MILDER, MILDER.c.seen_at.is_(None), MILDER.c.void_at.is_(None))


def waits(visit: Any) -> tuple[ColumnElement[bool], ...]:
    """Return the condition that a visit stands and no clinician has confirmed it."""
    c = getattr(visit, "c", visit)
    return c.confirmed_at.is_(None), c.void_at.is_(None)


def _held(which: Which, on: date, live: date | None) -> tuple[ColumnElement[bool], ...]:
    c = FOLLOW_UPS.c
    held: tuple[ColumnElement[bool], ...] = c.is_open, c.void_at.is_(None)
    if which == "open":
        return held
    if which == "history":
        return (*held, or_(c.step == LOOK_THROUGH, c.latest < (live or date.min)))
    if live is not None:
        held = (*held, or_(c.step != LOOK_THROUGH, c.next_step_on != live))
    return (*held, c.next_step_on <= on) if which == "come" else (*held, c.latest < on)


def _chased(on: date | None, live: date | None) -> tuple[ColumnElement[bool], ...]:
    c = REFERRALS.c
    held: tuple[ColumnElement[bool], ...] = c.is_open, c.void_at.is_(None)
    if on is None:
        return held
    if live is not None:
        held = (*held, or_(c.stage != LOOK_THROUGH, c.chase_on != live))
    return (*held, c.chase_on <= on)


def _count(session: Session, of: TableClause, *held: ColumnElement[bool]) -> int:
    wanted = select(func.count()).select_from(of).where(*held)
    return session.scalar(_shown(session, wanted, of.c.person_id)) or 0
