"""Who may already be in the register: looked for before anybody new is written down.

By NHS number, by name that sounds alike, by birth date, by a number to ring, by postcode. What
is found is shown to whoever asks; nobody is merged and nobody is refused for a likeness alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.people.search_keys import (
    distance_within,
    joined_words,
    name_parts,
    phone_key,
    postcode_key,
    said_words,
    sound,
)
from recall.records.tables.statements import read_as

_ENOUGH = 3
"""So much likeness, and somebody is shown."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Whoever is to be written down, as far as they are known."""

    given_names: str
    family_name: str
    born: date
    phones: tuple[str, ...] = ()
    postcode: str = ""
    nhs_number: str = ""


@dataclass(frozen=True, slots=True)
class Alike:
    """Somebody in the register who may be the same person, and by what."""

    id: int
    ref: str
    given_names: str
    family_name: str
    born: date
    by: tuple[str, ...]
    """In words, the strongest likeness first."""


@dataclass(frozen=True)
class _Row:
    id: int
    ref: str
    given_names: str
    family_name: str
    known_as: str
    born: date
    nhs_number: str | None


def alike(session: Session, asked: Asked) -> tuple[Alike, ...]:
    """Return who may be the same person, the likeliest first."""
    keys = _keys(session, _candidates(session, asked))
    people = select(read_as(_Row, tables.Person)).where(
        tables.Person.id.in_(list(keys)), stands(tables.Person)
    )
    found: list[tuple[int, Alike]] = []
    for row in session.scalars(people).all():
        likeness = list(_likeness(asked, row, keys[row.id]))
        weight = sum(each for each, _ in likeness)
        if weight >= _ENOUGH:
            by = tuple(words for _, words in sorted(likeness, key=lambda one: -one[0]))
            who = Alike(row.id, row.ref, row.given_names, row.family_name, row.born, by)
            found.append((weight, who))
    found.sort(key=lambda one: (-one[0], one[1].ref))
    return tuple(who for _, who in found)


def _candidates(session: Session, asked: Asked) -> list[int]:
    """Return who shares the NHS number, a telephone number, or a name with a birth date or place.

    A name alone is not looked at: half a village has it.
    """
    firm = [("nhs", asked.nhs_number), *(("phone", phone_key(p)) for p in asked.phones)]
    born = [("born", day.isoformat()) for day in _days_near(asked.born)]
    place = [("postcode", postcode_key(asked.postcode))]
    parts = _parts(asked.family_name, asked.given_names)
    named = [("name", part) for part in parts] + [("sound", sound(part)) for part in parts]
    by_name = _having(session, named)
    near = _having(session, [*born[1:], *place]) & by_name
    return sorted(_having(session, firm) | _having(session, born[:1]) | near)


def _having(session: Session, pairs: Sequence[tuple[str, str]]) -> set[int]:
    """Return who is found by one of some keys; an empty key finds nobody."""
    k = tables.PersonKey
    tests = [and_(k.kind == kind, k.key == key) for kind, key in pairs if key]
    return set(session.scalars(select(k.person_id).where(or_(*tests)))) if tests else set()


def _keys(session: Session, ids: Sequence[int]) -> dict[int, set[tuple[str, str]]]:
    k = tables.PersonKey
    found: dict[int, set[tuple[str, str]]] = {number: set() for number in ids}
    wanted = select(k.person_id, k.kind, k.key).where(
        k.person_id.in_(ids), k.kind.in_(("phone", "postcode"))
    )
    for number, kind, key in session.execute(wanted):
        found[number].add((kind, key))
    return found


def _likeness(asked: Asked, row: _Row, keys: set[tuple[str, str]]) -> Iterator[tuple[int, str]]:
    """Give what is alike, each with its weight: three are enough."""
    if asked.nhs_number and asked.nhs_number == row.nhs_number:
        yield 5, "the same NHS number"
    family = _name(asked.family_name, row.family_name)
    given = _name(asked.given_names, f"{row.given_names} {row.known_as}")
    crossed = _name(asked.family_name, row.given_names) and _name(
        asked.given_names, row.family_name
    )
    if (family and given) or crossed:
        same = {family, given} == {"same"}
        yield 2, "the same name" if same else "a name that sounds alike"
    elif family or given:
        yield 1, "a part of the name"
    if asked.born == row.born:
        yield 2, "the same birth date"
    elif row.born in _days_near(asked.born):
        yield 1, "nearly the same birth date"
    if any(("phone", phone_key(phone)) in keys for phone in asked.phones):
        yield 1, "the same number to ring"
    if asked.postcode and ("postcode", postcode_key(asked.postcode)) in keys:
        yield 1, "the same postcode"


def _name(one: str, other: str) -> str:
    """Return how far two names are the same: the same, alike, or not at all."""
    ours, theirs = _parts(one), _parts(other)
    if ours & theirs:
        return "same"
    sounds = {sound(part) for part in theirs} - {""}
    if any(sound(part) in sounds for part in ours):
        return "alike"
    near = any(distance_within(a, b, 1) for a in ours for b in theirs if min(len(a), len(b)) > 3)
    return "alike" if near else ""


def _parts(*names: str) -> set[str]:
    joined = {one for name in names for one in joined_words(said_words(name))}
    return {part for part in name_parts(*names) | joined if len(part) > 1}


def _days_near(born: date) -> list[date]:
    """Return a birth date and those that are mistyped for it: one part wrong, or two swapped.

    The year one or ten off, day and month the other way round.
    """
    found = [born]
    for year, month, day in (
        (born.year, born.day, born.month),
        *((born.year + by, born.month, born.day) for by in (-10, -1, 1, 10)),
        *((born.year, born.month, born.day + by) for by in (-1, 1, -10, 10)),
        *((born.year, born.month + by, born.day) for by in (-1, 1)),
    ):
        try:
            near = date(year, month, day)
        except ValueError:
            continue
        if near not in found:
            found.append(near)
    return found
