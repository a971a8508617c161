"""What of a day's list may be at another step than is kept, or says something about the others."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from functools import cache
from typing import Any, NamedTuple

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    CompoundSelect,
    Date,
    DateTime,
    Integer,
    Select,
    String,
    bindparam,
    column,
    exists,
    func,
    literal,
    literal_column,
    or_,
    select,
    table,
    union_all,
)
from sqlalchemy.orm import Session

from recall.care.dates import ADULT_FROM, add
from recall.protocol.contact_steps import CALL_STEPS, LETTER_STEPS, LOOK_THROUGH
from recall.records.facts.candidates import (
    FOLLOW_UPS,
    KEPT,
    ON,
    OPEN,
    PEOPLE,
    STEPS,
    TO_PLAN,
    Candidate,
    left_out_sites,
    not_of,
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
ADULTS = table("adult_for", column("person_id", Integer))
BOOKINGS = table("booking", column("person_id", Integer))
VISITS = table(
    "visit", column("person_id", Integer), column("on", Date), column("void_at", DateTime)
)
_f = FOLLOW_UPS.c


def _an_hour() -> tuple[ColumnElement[bool], ...]:
    f, c, also = FOLLOW_UPS.c, CONTACTS.c, ALSO_ABOUT.c
    agreed = c.until_at.is_not(None), c.until == f.next_step_on, c.void_at.is_(None)
    named = exists().where(c.follow_up_id == f.id, *agreed)
    linked = also.follow_up_id == f.id, also.contact_id == c.id, also.void_at.is_(None)
    too = exists().where(*linked, *agreed)
    # Few contacts have an hour, and many follow-ups are to be rung about: from the few first.
    # No index is searched by the step that is only looked at.
    rung = f.step.concat("").in_(CALL_STEPS), f.next_step_on <= ON, f.is_open, f.void_at.is_(None)
    hours = c.until_at > "", c.void_at.is_(None)
    theirs = select(c.follow_up_id).where(*hours)
    linked_to = select(also.follow_up_id).join(CONTACTS, also.contact_id == c.id).where(*hours)
    few = f.id.in_(theirs.union(linked_to))
    return few, *rung, or_(named, too)


_AN_HOUR = _an_hour()
_HAS_COME = func.coalesce(_f.next_step_on, ON) <= ON
"""As every day's list asks for it, where another column is to be searched by."""
_WITH_AN_HOUR = select(_f.id).where(*_AN_HOUR)
_OF_AGE: tuple[ColumnElement[bool], ...] = (
    PEOPLE.c.born <= bindparam("turned", type_=Date()),
    PEOPLE.c.born > bindparam("since", type_=Date()),
    _f.step.in_((*CALL_STEPS, *LETTER_STEPS)),
    or_(
        exists().where(ADULTS.c.person_id == PEOPLE.c.id),
        exists().where(BOOKINGS.c.person_id == PEOPLE.c.id),
    ),
)
_COME_OF_AGE = (
    select(_f.id).join_from(PEOPLE, FOLLOW_UPS, _f.person_id == PEOPLE.c.id).where(*OPEN, *_OF_AGE)
)


class Unsettled(NamedTuple):
    """What puts a day's list in order beside what is settled, each once and in no order."""

    by_facts: list[Candidate]
    """What has come, and only the facts say how it stands."""
    kept: list[Candidate]
    """What has come and is at one of the steps that were asked for, or of before going live."""
    later: list[Candidate]
    """What comes to one of some other steps on a later day."""
    seen: set[int]
    """The people who were seen on the day itself."""


def unsettled(
    session: Session,
    on: date,
    steps: Collection[str],
    later: Collection[str] = (),
    live: date | None = None,
) -> Unsettled:
    """Return what may be at another step than is kept, and what says something about others.

    One statement: asked one by one, these would take longer than the whole list does.
    """
    values = {"on": on, "steps": list(steps), "later": list(later), "live": live or date.min}
    turned, since = _turned(on)
    wanted = _unsettled(tuple(left_out_sites(session)))
    rows = session.connection().execute(wanted, {**values, "turned": turned, "since": since})
    found: tuple[dict[int, Candidate], ...] = {}, {}, {}
    seen: set[int] = set()
    for part, number, person, *rest in rows:
        if part == _SEEN:
            seen.add(person)
        else:
            found[part][number] = Candidate(number, person, *rest)
    anew = found[_BY_FACTS]
    kept = [each for each in found[_AS_KEPT].values() if each.id not in anew]
    return Unsettled(list(anew.values()), kept, list(found[_LATER].values()), seen)


_BY_FACTS, _AS_KEPT, _LATER, _SEEN = range(4)


@cache
def _unsettled(left_out: tuple[str, ...]) -> CompoundSelect[*tuple[Any, ...]]:
    """Return the statement, made once: each part of it is found by an index of its own."""
    live: BindParameter[date] = bindparam("live", type_=Date())
    not_old = or_(_f.step != LOOK_THROUGH, _f.next_step_on != live)
    shown = (*OPEN, *not_of(left_out, _f.person_id))
    come = *shown, not_old, _f.next_step_on <= ON

    def part(number: int, *held: ColumnElement[bool]) -> Select[*tuple[Any, ...]]:
        return select(literal(number, Integer), *KEPT).where(*held)

    v = VISITS.c
    no_step: ColumnElement[str] = literal_column("''", String)
    seen = select(
        literal(_SEEN, Integer), v.person_id, v.person_id, v.person_id, no_step, v.on, v.on
    )
    return union_all(
        part(_BY_FACTS, *come, _f.person_id.in_(select(TO_PLAN.c.person_id))),
        part(_BY_FACTS, *come, *_AN_HOUR),
        part(_BY_FACTS, *come, *_OF_AGE).join_from(PEOPLE, FOLLOW_UPS, _f.person_id == PEOPLE.c.id),
        part(_AS_KEPT, *come, _f.step.in_(STEPS)),
        part(_AS_KEPT, *shown, not_old, _HAS_COME, _f.latest < live),  # none before: unreadable
        part(
            _LATER,
            *shown,
            _f.step.in_(bindparam("later", expanding=True)),
            _f.next_step_on > ON,
        ),
        seen.where(v.on == ON, v.void_at.is_(None)),
    )


def with_an_hour(session: Session, on: date) -> frozenset[int]:
    """Return the follow-ups whose next call has an hour: only their facts say which."""
    return frozenset(session.scalars(_WITH_AN_HOUR, {"on": on}))


def told_by_facts(session: Session, on: date) -> frozenset[int]:
    """Return the follow-ups of which only their facts say how they stand, whatever their step."""
    return with_an_hour(session, on) | come_of_age(session, on)


def come_of_age(session: Session, on: date) -> frozenset[int]:
    """Return the follow-ups to ring or write about of whoever turned 16 in the last two years.

    The adults by whom they were reached answer no longer, nor is a missed appointment theirs any
    more, and the step that is kept may be of before the birthday. Whatever happens to a follow-up
    keeps it anew; in two years something has.
    """
    turned, since = _turned(on)
    return frozenset(session.scalars(_COME_OF_AGE, {"turned": turned, "since": since}))


def _turned(on: date) -> tuple[date, date]:
    """Return the last birth date, and the one before the first, of who turned 16 lately."""
    return add(on, months=-12 * ADULT_FROM), add(on, months=-12 * (ADULT_FROM + 2))
