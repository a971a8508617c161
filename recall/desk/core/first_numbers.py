"""The number of each person that is tried first: what a header says, without the rest of it.

A list asks it of everybody on it. For whom nobody else answers it is the first of their own
numbers; only where somebody does is everything read that a header is made of.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from itertools import product
from typing import NamedTuple, cast

from sqlalchemy import Date, bindparam, or_, select
from sqlalchemy.orm import Session

from recall.desk.core.numbers import numbers_of
from recall.desk.core.person_header import speakers_of
from recall.loop.addressee import Person, contact_stopped
from recall.records import tables
from recall.records.database.plain import as_kept
from recall.records.facts.cases import stands
from recall.records.people.addresses import reachable
from recall.records.tables.statements import IDS, given, many

Asked = frozenset[tuple[str, str]]
"""Who answers for a person, with each number of the person: each value with the name, folded."""
First = dict[int, tuple[str, Asked]]
"""By person: the value of their first number; who may be rung on none is not in it."""


class FirstNumber(NamedTuple):
    """The number of somebody that is tried first."""

    value: str
    name: str
    """Of the person."""
    asked: Asked = frozenset()


Way = tuple[int, str | None, str, int | None]
"""A number as it is recorded for somebody: the person, its value, whether it is safe, the adult."""
_NOBODY: Asked = frozenset()
_A, _C, _P = tables.AdultFor, tables.ContactPoint, tables.Person
# Each statement is made once: making one takes longer than asking it does.
_ANSWER = select(_A.person_id, _A.id, _A.name).where(_A.person_id.in_(IDS), stands(_A))
_WAYS = (
    select(_C.person_id, _C.value, _C.safe, _C.adult_id)
    .where(_C.person_id.in_(IDS), _C.kind == "phone", stands(_C))
    .where(or_(_C.until.is_(None), _C.until > bindparam("on", type_=Date())))
    .order_by(_C.rank, _C.id)
)
_PEOPLE = select(
    *(_P.id, _P.given_names, _P.family_name),
    *(_P.born, _P.deceased_on, _P.objected_on, _P.unsafe_on),
).where(_P.id.in_(IDS))


def phones(session: Session, person_ids: Iterable[int], on: date) -> Sequence[Way]:
    """Return the numbers of some people that are in use on a day, in the order to try."""
    values = {**given(person_ids), "on": on}
    return cast(Sequence[Way], as_kept(session.connection(), _WAYS, values))


def first_numbers(
    session: Session, person_ids: Collection[int], on: date, ways: Iterable[Way] | None = None
) -> dict[int, FirstNumber]:
    """Return the number that is tried first, of those who may be rung on one.

    `ways` are the numbers of at least these people, where they were read already.
    """
    names: dict[int, dict[int, str]] = defaultdict(dict)
    for person, adult, name in many(session, _ANSWER, list(person_ids)):
        names[person][adult] = name
    alone = set(person_ids) - names.keys()
    firsts: First = {}
    if alone:
        firsts |= _own(alone, phones(session, alone, on) if ways is None else ways)
    if names:
        firsts |= _answered_for(session, names, on)
    found: dict[int, FirstNumber] = {}
    for number, names_, family, *days in as_kept(session.connection(), _PEOPLE, given(firsts)):
        if days[1:] == _NEVER or _may_be_rung(days, on):
            value, asked = firsts[number]
            whole = f"{names_} {family}" if names_ and family else names_ or family
            found[number] = FirstNumber(value, whole, asked)
    return found


def _own(person_ids: Collection[int], ways: Iterable[Way]) -> First:
    """Return the first numbers of people for whom nobody else answers."""
    safe: dict[int, str] = {}
    only: dict[int, str] = {}
    for person, value, is_safe, adult in ways:
        if adult is not None or is_safe == "no" or person not in person_ids:
            continue
        if is_safe == "only_this":
            only[person] = only.get(person) or value or ""
        elif value:
            safe.setdefault(person, value)
    return {person: (value, _NOBODY) for person, value in (safe | only).items() if value}


_NEVER = [None, None, None]


def _may_be_rung(days: Sequence[str | None], on: date) -> bool:
    """Return whether somebody may be rung, by the days of birth and of what stops it, as kept."""
    born, died, objected, unsafe = (date.fromisoformat(day) if day else None for day in days)
    person = Person(born=born or date.min, died_on=died, objected_on=objected, unsafe_on=unsafe)
    return contact_stopped(person, on) is None


def _answered_for(session: Session, names: Mapping[int, dict[int, str]], on: date) -> First:
    """Return the first numbers of people for whom somebody answers, whose names are given."""
    found: First = {}
    for person, known in reachable(session, list(names), on).items():
        speakers = speakers_of(known.person, on)
        numbers = numbers_of(known, speakers, names[person], on)
        if numbers and numbers[0].value and contact_stopped(known.person, on) is None:
            speak = {each.id for each in speakers}
            owners = {folded(n.owner) for n in numbers if n.adult_id in speak and n.owner}
            under = {n.value for n in numbers if n.value}
            found[person] = numbers[0].value, frozenset(product(under, owners))
    return found


def folded(name: str) -> str:
    """Return a name as one who types it otherwise means it too.

    >>> folded(" Imogen  Vale")
    'imogen vale'
    """
    return " ".join(name.split()).casefold()
