"""Whom a reference means, however it is typed: the nearest spelling first.

Case, spaces, hyphens and leading zeros are forgiven; where two people fit equally well nobody is
chosen for whoever asked.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.errors import InputError, NotFound
from recall.records.people.search_keys import ref_key, ref_spellings
from recall.records.tables import Person, PersonKey


def person_id(session: Session, ref: str) -> int:
    """Return the number of the person whom a reference means.

    Raises:
        NotFound: no such reference.
        InputError: it may mean more than one person.
    """
    for found in (_as_stored(session, ref.strip()), _alike(session, {ref_key(ref)})):
        if len(found) == 1:
            return next(iter(found))
    found = _alike(session, ref_spellings(ref))
    if len(found) > 1:
        may_be = ", ".join(sorted(found.values()))
        raise InputError(f"{ref!r} may be {may_be}.", hint="Write the reference as it stands.")
    if not found:
        raise NotFound(f"There is no person {ref!r}.", hint="Find them by name or birth date.")
    return next(iter(found))


def person_ids(session: Session, refs: Sequence[str]) -> list[int]:
    """Return the numbers of the people whom some references mean, in their order.

    Raises:
        NotFound: no such reference.
        InputError: one may mean more than one person.
    """
    return [person_id(session, ref) for ref in refs]


def _as_stored(session: Session, ref: str) -> dict[int, str]:
    wanted = select(Person.id, Person.ref).where(Person.ref == ref, Person.void_at.is_(None))
    return {row.id: row.ref for row in session.execute(wanted)}


def _alike(session: Session, spellings: set[str]) -> dict[int, str]:
    """Return those found by one of some spellings, with their references as they are stored."""
    keyed = select(PersonKey.person_id).where(PersonKey.kind == "ref", PersonKey.key.in_(spellings))
    wanted = select(Person.id, Person.ref).where(Person.id.in_(keyed), Person.void_at.is_(None))
    return {row.id: row.ref for row in session.execute(wanted)}
