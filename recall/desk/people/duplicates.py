"""Possible duplicates: the same name, birth date and postcode under two references.

They are reported and never merged here: twins and namesakes live at one address too.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.people.search_keys import fold, postcode_key

_FEW = 500


@dataclass(frozen=True)
class PossibleDuplicate:
    """References that may be one and the same person."""

    refs: tuple[str, ...]
    born: date
    postcode: str


def possible_duplicates(
    session: Session, person_ids: Collection[int]
) -> tuple[PossibleDuplicate, ...]:
    """Return the possible duplicates that some people are part of."""
    if not person_ids:
        return ()
    groups: dict[tuple[str, date], list[tuple[int, str]]] = defaultdict(list)
    for number, ref, given, family, born in session.execute(_people(session, person_ids)):
        name = " ".join(fold(f"{given} {family}").split())
        groups[name, born].append((number, ref))
    wanted = set(person_ids)
    alike = {
        key: people
        for key, people in groups.items()
        if len(people) > 1 and not wanted.isdisjoint(number for number, _ in people)
    }
    postcodes = _postcodes(session, [number for g in alike.values() for number, _ in g])
    return tuple(
        duplicates
        for (_, born), people in sorted(alike.items())
        for duplicates in _same_place(people, born, postcodes)
    )


def _people(session: Session, person_ids: Collection[int]) -> Select[int, str, str, str, date]:
    """Return the statement for everybody who could be alike: by birth date where few are new."""
    c = tables.Person
    wanted = select(c.id, c.ref, c.given_names, c.family_name, c.born).where(stands(tables.Person))
    if len(person_ids) > _FEW:
        return wanted
    days = session.scalars(select(c.born).where(c.id.in_(person_ids)).distinct()).all()
    return wanted.where(c.born.in_(days))


def _postcodes(session: Session, ids: Sequence[int]) -> dict[int, set[str]]:
    c = tables.ContactPoint
    found: dict[int, set[str]] = defaultdict(set)
    for start in range(0, len(ids), _FEW):
        wanted = select(c.person_id, c.postcode).where(
            c.person_id.in_(ids[start : start + _FEW]),
            c.postcode.is_not(None),
            stands(tables.ContactPoint),
        )
        for number, postcode in session.execute(wanted):
            found[number].add(postcode_key(postcode or ""))
    return found


def _same_place(
    people: Sequence[tuple[int, str]], born: date, postcodes: dict[int, set[str]]
) -> list[PossibleDuplicate]:
    """Return those of one name and birth date who share a postcode."""
    places: dict[str, list[str]] = defaultdict(list)
    for number, ref in people:
        for postcode in postcodes.get(number, ()):
            places[postcode].append(ref)
    return [
        PossibleDuplicate(tuple(sorted(refs)), born, postcode.upper())
        for postcode, refs in sorted(places.items())
        if len(refs) > 1
    ]
