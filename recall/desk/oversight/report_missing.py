"""What the month's report tells of data that is missing: of whoever is waited for, today."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import ColumnElement, and_, exists, func, select
from sqlalchemy.orm import Session

from recall.desk.oversight.report_lines import Line
from recall.protocol.contact_steps import LOOK_THROUGH
from recall.records.facts.candidates import waits
from recall.records.facts.cases import stands
from recall.records.facts.no_way import no_way
from recall.records.tables import ContactPoint, FollowUp, Person, Visit

PART = "missing data, on the day of the report"


def missing(session: Session) -> Iterator[Line]:
    """Give how many who are waited for lack a way to reach them, or its check."""
    f, who = FollowUp, Person
    waited = exists().where(f.person_id == who.id, f.is_open, stands(f), f.step != LOOK_THROUGH)
    people = select(func.count()).select_from(who).where(stands(who), waited)
    yield Line(PART, "people who are waited for", "", session.scalar(people) or 0)
    c = ContactPoint
    may = c.value.is_not(None), c.safe != "no"
    number, address = _has(c.kind == "phone", *may), _has(c.kind == "address", *may)
    checked = _has(c.kind == "address", c.checked_on.is_not(None), *may)
    lacks = {
        "no telephone number that may be used": ~number,
        "no address that may be used": ~address,
        "an address, and none that was checked": and_(address, ~checked),
        "a number or address that is not understood": _has(c.value.is_(None)),
        "no address of whoever is written to in their place": no_way(who.id),
    }
    for words, lack in lacks.items():
        yield Line(PART, words, "", session.scalar(people.where(lack)) or 0)
    unconfirmed = select(func.count()).select_from(Visit).where(*waits(Visit))
    yield Line(PART, "visits not confirmed by a clinician", "", session.scalar(unconfirmed) or 0)


def _has(*conditions: ColumnElement[bool]) -> ColumnElement[bool]:
    """Return the condition that somebody has a way of reaching them of which all this holds."""
    mine = ContactPoint.person_id == Person.id
    return exists().where(mine, stands(ContactPoint), ContactPoint.until.is_(None), *conditions)
