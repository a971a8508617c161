"""Who is written to through somebody else, of whom no address is known: no letter can go at all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import ColumnElement, and_, exists, or_, select
from sqlalchemy.orm import Session, aliased

from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import IDS, many


def no_way(person_id: Any) -> ColumnElement[bool]:
    """Return the condition that somebody is written to in a person's place, and has no address.

    Who is still answered for as a child is left out: of a child the parents are written to.
    """
    adult, c = aliased(tables.AdultFor), tables.ContactPoint
    acts = adult.person_id == person_id, stands(adult), adult.until.is_(None)
    child = adult.role == "responsible_adult"
    address = stands(c), c.until.is_(None), c.kind == "address", c.value.is_not(None)
    theirs = c.person_id == adult.person_id, c.adult_id == adult.id
    reached = *theirs, c.safe != "no", or_(adult.instead, c.safe == "only_this")
    return and_(
        exists().where(*acts, adult.instead, ~child),
        ~exists().where(*acts, child),
        ~exists().where(*acts, *address, *reached),
    )


_NO_WAY = select(tables.Person.id).where(tables.Person.id.in_(IDS), no_way(tables.Person.id))


def without_a_way(session: Session, person_ids: Sequence[int]) -> set[int]:
    """Return who of some people has somebody written to in their place who has no address."""
    return {number for (number,) in many(session, _NO_WAY, person_ids)}
