"""Whoever shares a number, or an adult's address, with somebody who may not be contacted."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from recall.loop.addressee import Person, contact_stopped
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.people.addresses import ContactPointRow, Reachable
from recall.records.tables.statements import REFS, many_now

_C, _P = tables.ContactPoint, tables.Person
_STOPPED = (
    select(_C.value, _P.id, _P.ref, _P.born, _P.objected_on, _P.unsafe_on)
    .join_from(_C, _P, _C.person_id == _P.id)
    .where(_C.value.in_(REFS), stands(_C), _P.deceased_on.is_(None))
    .where(or_(_P.objected_on.is_not(None), _P.unsafe_on.is_not(None)))
    .where(or_(_C.kind == "phone", _C.adult_id.is_not(None)))
    .order_by(_P.id)
)


def stopped_beside(
    session: Session, known: Mapping[int, Reachable], on: date
) -> dict[int, tuple[str, ...]]:
    """Return by person what to know of others on the same number, or of the same adult."""
    whose: dict[str, set[int]] = defaultdict(set)
    for person_id, reach in known.items():
        for way in reach.ways:
            if way.value and _is_shared(way):
                whose[way.value].add(person_id)
    found: dict[int, dict[str, None]] = defaultdict(dict)
    rows = many_now(session, _STOPPED, sorted(whose)) if whose else ()
    for value, number, ref, born, objected_on, unsafe_on in rows:
        person = Person(born=born, objected_on=objected_on, unsafe_on=unsafe_on)
        because = contact_stopped(person, on)
        for other in whose[value or ""] - {number} if because else ():
            found[other][f"On this number or at this address: {ref} {_says(because)}"] = None
    return {person_id: tuple(words) for person_id, words in found.items()}


def _is_shared(way: ContactPointRow) -> bool:
    return way.kind == "phone" or (way.kind == "address" and way.adult_id is not None)


def _says(because: str | None) -> str:
    """Return why somebody may not be contacted as the rest of a sentence.

    >>> _says("not safe to contact (1 September 2026)")
    'is not safe to contact (1 September 2026).'
    """
    said = because or ""
    return f"{'is ' if said.startswith('not') else ''}{said}."
