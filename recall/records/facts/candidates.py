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
    union,
)
from sqlalchemy.orm import Session

from recall.care.case import URGENCIES
from recall.care.dates import ADULT_FROM, add
from recall.protocol.contact_steps import CALL_STEPS, LETTER_STEPS, LOOK_THROUGH
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
)
CONTACTS = table(
    "contact",
    column("id", Integer),
    column("follow_up_id", Integer),
    column("until", Date),
    column("until_at", String),
    column("void_at", DateTime),
)
ALSO_ABOUT = table(
    "also_about",
    column("follow_up_id", Integer),
    column("contact_id", Integer),
    column("void_at", DateTime),
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
_KEPT = _f.id, _f.person_id, _f.urgency_rank, _f.step, _f.next_step_on, _f.latest
_ON: BindParameter[date] = bindparam("on", type_=Date())
_STEPS: BindParameter[Any] = bindparam("steps", expanding=True)
_OPEN: tuple[ColumnElement[bool], ...] = _f.is_open, _f.void_at.is_(None)
# Each is made once: for a small practice making one takes longer than asking it does.
_LATER = select(*_KEPT).where(_f.step.in_(_STEPS), _f.next_step_on > _ON, *_OPEN)
_SETTLED = select(_f.urgency_rank, _f.latest, _f.next_step_on, _f.person_id, _f.id).where(
    *_OPEN,
    *(_f.next_step_on <= _ON, _f.step.in_(_STEPS)),
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
    left_out = left_out_sites(session)
    if not left_out:
        return ()
    home = PEOPLE.alias("home")
    return (~exists().where(home.c.id == person, home.c.site.in_(left_out)),)


def _shown(session: Session, wanted: Select[Any], person: PersonNumber) -> Select[Any]:
    held = of_sites(session, person)
    return wanted.where(*held) if held else wanted


def later_at(session: Session, on: date, steps: Collection[str]) -> Iterator[Candidate]:
    """Give the open follow-ups that come to one of some steps on a later day, in no order."""
    wanted = _shown(session, _LATER, _f.person_id)
    for row in session.connection().execute(wanted, {"on": on, "steps": list(steps)}):
        yield Candidate(*row)


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
    for day in {row[1] for row in rows} | {row[2] for row in rows}:
        date.fromisoformat(day)
    if not {row[0] for row in rows} <= _RANKS:
        raise ValueError("An urgency is none.")
    return rows


def unsettled(
    session: Session,
    on: date,
    steps: Collection[str],
    besides: Collection[int],
    live: date | None = None,
) -> Iterator[Candidate]:
    """Give what has come and may be at another step than is kept, in no order.

    That is what is at one of some steps, of people to be planned again, named `besides`, or of
    before the day of going live. Each is found by an index of its own.
    """
    c = FOLLOW_UPS.c
    wanted = select(*_KEPT).where(*_held("come", on, live), *of_sites(session, c.person_id))
    ways = [wanted.where(c.step.in_(steps))]
    ways.append(wanted.where(c.person_id.in_(select(TO_PLAN.c.person_id))))
    if besides:
        ways.append(wanted.where(c.id.in_(besides)))
    ways.append(wanted.where(c.latest < (live or date.min)))  # before any day: it cannot be read
    for row in session.connection().execute(union(*ways)):
        yield Candidate(*row)


def not_planned(session: Session) -> frozenset[int]:
    """Return the people who changed and are not planned again: their columns are old."""
    return frozenset(session.scalars(_NOT_PLANNED))


def with_an_hour(session: Session, on: date) -> frozenset[int]:
    """Return the follow-ups whose next call has an hour: only their facts say which."""
    return frozenset(session.scalars(_WITH_AN_HOUR, {"on": on}))


def told_by_facts(session: Session, on: date) -> frozenset[int]:
    """Return the follow-ups of which only their facts say how they stand, whatever their step."""
    return with_an_hour(session, on) | come_of_age(session, on)


def come_of_age(session: Session, on: date) -> frozenset[int]:
    """Return the follow-ups to ring or write about of whoever turned 16 in the last two years.

    The adults by whom they were reached answer no longer, and the step that is kept may be of
    before the birthday. Whatever happens to a follow-up keeps it anew; in two years something has.
    """
    turned, since = (add(on, months=-12 * age) for age in (ADULT_FROM, ADULT_FROM + 2))
    return frozenset(session.scalars(_COME_OF_AGE, {"turned": turned, "since": since}))


def _with_an_hour() -> Select[tuple[int]]:
    f, c, also = FOLLOW_UPS.c, CONTACTS.c, ALSO_ABOUT.c
    agreed = c.until_at.is_not(None), c.until == f.next_step_on, c.void_at.is_(None)
    named = exists().where(c.follow_up_id == f.id, *agreed)
    linked = also.follow_up_id == f.id, also.contact_id == c.id, also.void_at.is_(None)
    too = exists().where(*linked, *agreed)
    rung = f.step.in_(CALL_STEPS), f.next_step_on <= _ON, f.is_open, f.void_at.is_(None)
    # Few contacts have an hour, and many follow-ups are to be rung about: from the few first.
    hours = c.until_at > "", c.void_at.is_(None)
    theirs = select(c.follow_up_id).where(*hours)
    linked_to = select(also.follow_up_id).join(CONTACTS, also.contact_id == c.id).where(*hours)
    few = f.id.in_(theirs.union(linked_to))
    return select(f.id).where(few, *rung, or_(named, too))


_WITH_AN_HOUR = _with_an_hour()
_COME_OF_AGE = (
    select(_f.id)
    .join_from(PEOPLE, FOLLOW_UPS, _f.person_id == PEOPLE.c.id)
    .where(PEOPLE.c.born <= bindparam("turned", type_=Date()))
    .where(PEOPLE.c.born > bindparam("since", type_=Date()))
    .where(*_OPEN, _f.step.in_((*CALL_STEPS, *LETTER_STEPS)))
)


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
