"""Whom a letter about somebody may go to: the person, their adults, and every address."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.loop.addressee import Adult, Person, Safe
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.tables.base import ContactPointKind
from recall.records.tables.statements import IDS, columns_of, many_now, many_of, table_of


@dataclass(frozen=True)
class ContactPointRow:
    """One way to reach a person or their adult."""

    id: int
    person_id: int
    adult_id: int | None
    kind: ContactPointKind
    label: str
    rank: int
    raw: str
    value: str | None
    postcode: str | None
    problem: str | None
    safe: Safe
    checked_on: date | None
    best_time: str
    until: date | None
    note: str


@dataclass(frozen=True)
class Reachable:
    """A person as the choice of addressee sees them, and every standing way to reach them."""

    person: Person
    ways: tuple[ContactPointRow, ...]
    row: tables.Person
    """All that is recorded of the person."""
    names: Mapping[int, str]
    """Of the adults, by their number."""

    def home(self, number: int) -> ContactPointRow:
        """Return the address that an addressee names."""
        return next(way for way in self.ways if way.id == number)


# Each statement is made once: making one takes longer than asking it does.
_WAYS = (
    select(*columns_of(ContactPointRow, tables.ContactPoint))
    .where(tables.ContactPoint.person_id.in_(IDS), stands(tables.ContactPoint))
    .order_by(tables.ContactPoint.rank, tables.ContactPoint.id)
)
_ADULTS = (
    select(table_of(tables.AdultFor))
    .where(tables.AdultFor.person_id.in_(IDS), stands(tables.AdultFor))
    .order_by(tables.AdultFor.id)
)
_PEOPLE = select(table_of(tables.Person)).where(tables.Person.id.in_(IDS), stands(tables.Person))


def reachable(session: Session, person_ids: Sequence[int], on: date) -> dict[int, Reachable]:
    """Return whom letters may go to on a day, by person; homes are numbers of address rows.

    Two adults at one address share the home: the same lines and postcode count as one.
    """
    found: dict[int, Reachable] = {}
    for some in pages(person_ids):
        found |= _page(session, some, on)
    return found


def _page(session: Session, person_ids: Sequence[int], on: date) -> dict[int, Reachable]:
    ways = _ways(session, person_ids, on)
    adults: dict[int, list[tables.AdultFor]] = defaultdict(list)
    for row in many_of(session, tables.AdultFor, _ADULTS, person_ids):
        adults[row.person_id].append(row)
    return {
        person.id: _reachable(person, adults[person.id], ways[person.id])
        for person in many_of(session, tables.Person, _PEOPLE, person_ids)
    }


def _ways(
    session: Session, person_ids: Sequence[int], on: date
) -> dict[int, list[ContactPointRow]]:
    found: dict[int, list[ContactPointRow]] = defaultdict(list)
    for values in many_now(session, _WAYS, person_ids):
        row = ContactPointRow(*values)
        if row.until is None or row.until > on:
            found[row.person_id].append(row)
    return found


def _reachable(
    row: tables.Person, adults: Sequence[tables.AdultFor], ways: Sequence[ContactPointRow]
) -> Reachable:
    home, safe = _home(ways, None)
    person = Person(
        born=row.born,
        home=home,
        safe=safe,
        adults=tuple(_adult_of(adult, ways) for adult in adults),
        died_on=row.deceased_on,
        objected_on=row.objected_on,
        unsafe_on=row.unsafe_on,
        moved_on=row.moved_on,
    )
    return Reachable(person, tuple(ways), row, {adult.id: adult.name for adult in adults})


def _adult_of(adult: tables.AdultFor, ways: Sequence[ContactPointRow]) -> Adult:
    home, safe = _home(ways, adult.id)
    return Adult(
        id=adult.id,
        role=adult.role,
        instead=adult.instead,
        since=adult.since,
        until=adult.until,
        home=home,
        safe=safe,
    )


def _home(ways: Sequence[ContactPointRow], adult_id: int | None) -> tuple[int | None, Safe]:
    """Return the first address of somebody, as the first row that holds it, and its safety."""
    addresses = [way for way in ways if way.kind == "address" and way.value]
    own = [way for way in addresses if way.adult_id == adult_id]
    if not own:
        return None, "yes"
    chosen = next((way for way in own if way.safe == "only_this"), own[0])
    same = [w for w in addresses if (w.value, w.postcode) == (chosen.value, chosen.postcode)]
    return min(way.id for way in same), chosen.safe
