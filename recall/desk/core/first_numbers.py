"""The number of each person that is tried first: what a header says, without the rest of it.

A list asks it of everybody on it. For whom nobody else answers it is the first of their own
numbers; only where somebody does is everything read that a header is made of.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.numbers import numbers_of
from recall.desk.core.person_header import speakers_of
from recall.loop.addressee import Person, contact_stopped
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.people.addresses import reachable

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


def first_numbers(session: Session, person_ids: Sequence[int], on: date) -> dict[int, FirstNumber]:
    """Return the number that is tried first, of those who may be rung on one."""
    found: dict[int, FirstNumber] = {}
    a, p = tables.AdultFor, tables.Person
    for some in pages(sorted(set(person_ids))):
        held = a.person_id.in_(some), stands(a)
        answered = set(session.scalars(select(a.person_id).where(*held).distinct()))
        alone = [person for person in some if person not in answered]
        firsts = _own(session, alone, on) | _answered_for(session, sorted(answered), on)
        wanted = select(p.id, p.given_names, p.family_name).where(p.id.in_(firsts))
        for person, given, family in session.execute(wanted):
            value, asked = firsts[person]
            found[person] = FirstNumber(value, " ".join(filter(None, (given, family))), asked)
    return found


def _own(session: Session, person_ids: Sequence[int], on: date) -> First:
    """Return the first numbers of people for whom nobody else answers."""
    c = tables.ContactPoint
    phones = c.kind == "phone", c.adult_id.is_(None), c.safe != "no", stands(c)
    held = c.person_id.in_(person_ids), c.until.is_(None) | (c.until > on)
    wanted = select(c.person_id, c.safe, c.value).where(*phones, *held).order_by(c.rank, c.id)
    safe: dict[int, list[str]] = defaultdict(list)
    only: dict[int, list[str]] = defaultdict(list)
    for person, word, value in session.execute(wanted):
        (only if word == "only_this" else safe)[person].append(value or "")
    stopped = _stopped(session, person_ids, on)
    firsts = {
        person: next(filter(None, only.get(person) or safe[person]), "")
        for person in (*safe, *only)
        if person not in stopped
    }
    return {person: (value, frozenset()) for person, value in firsts.items() if value}


def _stopped(session: Session, person_ids: Sequence[int], on: date) -> frozenset[int]:
    p = tables.Person
    days = p.deceased_on, p.objected_on, p.unsafe_on
    some = days[0].is_not(None) | days[1].is_not(None) | days[2].is_not(None)
    wanted = select(p.id, p.born, *days).where(p.id.in_(person_ids), some)
    return frozenset(
        number
        for number, born, died, objected, unsafe in session.execute(wanted)
        if contact_stopped(
            Person(born=born, died_on=died, objected_on=objected, unsafe_on=unsafe), on
        )
    )


def _answered_for(session: Session, person_ids: Sequence[int], on: date) -> First:
    """Return the first numbers of people for whom somebody answers."""
    found: First = {}
    a = tables.AdultFor
    wanted = select(a.id, a.name).where(a.person_id.in_(person_ids), stands(a))
    names = {number: name for number, name in session.execute(wanted)}  # noqa: C416
    for person, known in reachable(session, person_ids, on).items():
        speakers = speakers_of(known.person, on)
        numbers = numbers_of(known, speakers, names, on)
        if numbers and numbers[0].value and contact_stopped(known.person, on) is None:
            speak = {each.id for each in speakers}
            theirs = (n for n in numbers if n.adult_id in speak and n.value and n.owner)
            asked = frozenset((n.value, _folded(n.owner)) for n in theirs)
            found[person] = numbers[0].value, asked
    return found


def _folded(name: str) -> str:
    """Return a name as one who types it otherwise means it too.

    >>> _folded(" Imogen  Vale")
    'imogen vale'
    """
    return " ".join(name.split()).casefold()
