"""The number of each person that is tried first: what a header says, without the rest of it.

A list asks it of everybody on it. For whom nobody else answers it is the first of their own
numbers; only where somebody does is everything read that a header is made of.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from typing import NamedTuple, cast

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.numbers import numbers_of
from recall.desk.core.person_header import speakers_of
from recall.loop.addressee import Person, contact_stopped
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.people.addresses import reachable
from recall.records.tables.statements import IDS, many

Asked = frozenset[tuple[str, str]]
"""Who answers for a person, under which numbers: each value with the name, folded."""
First = dict[int, tuple[str, Asked]]
"""By person: the value of their first number; who may be rung on none is not in it."""


class FirstNumber(NamedTuple):
    """The number of somebody that is tried first."""

    value: str
    name: str
    """Of the person."""
    asked: Asked = frozenset()


class Way(NamedTuple):
    """A number as it is recorded for somebody."""

    person_id: int
    value: str | None
    safe: str
    adult_id: int | None
    until: date | None


class _Known(NamedTuple):
    """What is known of a person: the name, and why nobody may ring."""

    id: int
    given_names: str
    family_name: str
    born: date
    deceased_on: date | None
    objected_on: date | None
    unsafe_on: date | None


_A, _C, _P = tables.AdultFor, tables.ContactPoint, tables.Person
# Each statement is made once: making one takes longer than asking it does.
_ANSWER = select(_A.person_id, _A.id, _A.name).where(_A.person_id.in_(IDS), stands(_A))
_WAYS = (
    select(_C.person_id, _C.value, _C.safe, _C.adult_id, _C.until)
    .where(_C.person_id.in_(IDS), _C.kind == "phone", stands(_C))
    .order_by(_C.rank, _C.id)
)
_PEOPLE = select(
    *(_P.id, _P.given_names, _P.family_name),
    *(_P.born, _P.deceased_on, _P.objected_on, _P.unsafe_on),
).where(_P.id.in_(IDS))


def phones(session: Session, person_ids: Iterable[int], on: date) -> list[Way]:
    """Return the numbers of some people that are in use on a day, in the order to try."""
    found = (Way(*row) for row in many(session, _WAYS, list(person_ids)))
    return [way for way in found if way.until is None or way.until > on]


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
    for who in cast(Sequence[_Known], many(session, _PEOPLE, list(firsts))):
        if _may_be_rung(who, on):
            value, asked = firsts[who.id]
            name = " ".join(filter(None, (who.given_names, who.family_name)))
            found[who.id] = FirstNumber(value, name, asked)
    return found


def _own(person_ids: Collection[int], ways: Iterable[Way]) -> First:
    """Return the first numbers of people for whom nobody else answers."""
    safe: dict[int, list[str]] = defaultdict(list)
    only: dict[int, list[str]] = defaultdict(list)
    for way in ways:
        if way.person_id in person_ids and way.adult_id is None and way.safe != "no":
            (only if way.safe == "only_this" else safe)[way.person_id].append(way.value or "")
    firsts = {
        person: next(filter(None, only.get(person) or safe[person]), "")
        for person in (*safe, *only)
    }
    return {person: (value, frozenset()) for person, value in firsts.items() if value}


def _may_be_rung(who: _Known, on: date) -> bool:
    if who.deceased_on is None and who.objected_on is None and who.unsafe_on is None:
        return True
    person = Person(
        born=who.born,
        died_on=who.deceased_on,
        objected_on=who.objected_on,
        unsafe_on=who.unsafe_on,
    )
    return contact_stopped(person, on) is None


def _answered_for(session: Session, names: Mapping[int, dict[int, str]], on: date) -> First:
    """Return the first numbers of people for whom somebody answers, whose names are given."""
    found: First = {}
    for person, known in reachable(session, list(names), on).items():
        speakers = speakers_of(known.person, on)
        numbers = numbers_of(known, speakers, names[person], on)
        if numbers and numbers[0].value and contact_stopped(known.person, on) is None:
            speak = {each.id for each in speakers}
            theirs = (n for n in numbers if n.adult_id in speak and n.value and n.owner)
            found[person] = numbers[0].value, frozenset((n.value, folded(n.owner)) for n in theirs)
    return found


def folded(name: str) -> str:
    """Return a name as one who types it otherwise means it too.

    >>> folded(" Imogen  Vale")
    'imogen vale'
    """
    return " ".join(name.split()).casefold()
