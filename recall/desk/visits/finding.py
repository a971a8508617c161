"""One visit: read from a piece of a case file, or found by its reference."""

from __future__ import annotations

from datetime import date

import msgspec
from sqlalchemy import select

from recall.care.case import Visit
from recall.care.casefile import decode_visit
from recall.desk.core.acting import row_of
from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.rights import Right
from recall.desk.core.row_number import row_number
from recall.desk.core.session import Desk
from recall.desk.visits.rows import as_case
from recall.errors import NotFound
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import whole


@needs(Right.LOOK)
def read_visit(desk: Desk, person: str, data: bytes, on: date) -> Visit:
    """Return the visit in a piece of a case file; where it has no day, `on` is meant.

    Raises:
        NotFound: no such person.
        InputError: it is no visit, or says what cannot be true; with its path.
    """
    with desk.store.read() as session:
        born = person_row(session, person).born
    try:
        raw = msgspec.json.decode(data)
    except (msgspec.DecodeError, UnicodeDecodeError):
        raw = None  # the decoder below says what is wrong
    if isinstance(raw, dict) and "on" not in raw:
        data = msgspec.json.encode({"on": on, **raw})
    return decode_visit(data, born)


@needs(Right.LOOK)
def find_visit(desk: Desk, text: str) -> tuple[int, Visit, str]:
    """Return a visit's number, what it says, and whose it is; by reference or as #number.

    Raises:
        NotFound: no such visit.
    """
    c = tables.Visit
    wanted = select(whole(tables.Visit)).where(stands(tables.Visit))
    number = row_number(text.removeprefix("#"))
    with desk.store.read() as session:
        row = session.scalars(wanted.where(c.ref == text)).one_or_none()
        if row is None and number is not None:
            by_number = wanted.where(c.id == number)
            row = session.scalars(by_number).one_or_none()
        if row is None:
            raise NotFound(
                f"There is no visit {text}.", hint="Give its reference, or #number of the visit."
            )
        person = row_of(session, tables.Person, row.person_id)
        return row.id, as_case(session, row), person.ref
