"""Contacts and bookings from files: what was tried so far, what is booked, what became of it.

A file names the person, not what it was about: `linking` finds the follow-up meant.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any, Generic, TypeVar

from sqlalchemy import exists, select, update
from sqlalchemy.orm import Session

from recall.desk.imports.file_digests import (
    Batch,
    Fresh,
    Importer,
    Refused,
    field_digests,
    file_digests,
    pairs,
    remember,
)
from recall.desk.imports.known_bookings import recognised
from recall.desk.imports.nearness import nearly
from recall.desk.imports.visits import unknown_person
from recall.exchange.bookings_in import BookingRow, read_bookings
from recall.exchange.contacts_in import ContactRow, read_contacts
from recall.records import tables
from recall.records.database.bulk import insert_numbered, insert_rows
from recall.records.facts.cases import stands
from recall.records.tables.statements import REFS, many, table_of

CHANGED = "Changed in the practice's file."
_DAY = timedelta(days=1)

Row = TypeVar("Row", ContactRow, BookingRow)
Landing = tables.Contact | tables.Booking


def _contact_keys() -> Callable[[ContactRow], str]:
    """Return what tells contacts apart: they have no reference, and two may look alike."""
    alike: Counter[str] = Counter()

    def key(row: ContactRow) -> str:
        plain = f"{row.person}|{row.on}|{row.at or ''}|{row.channel}|{row.outcome}"
        alike[plain] += 1
        return f"{plain}|{alike[plain]}"

    return key


def _booking_key(row: BookingRow) -> str:
    return row.reference or f"{row.person}|{row.on}|{row.at}"


def _people(
    session: Session, page: Sequence[Fresh[ContactRow]] | Sequence[Fresh[BookingRow]]
) -> dict[str, int]:
    c = tables.Person
    refs = {fresh.row.person for fresh in page}
    wanted = select(c.ref, c.id).where(c.ref.in_(refs), c.void_at.is_(None))
    return pairs(session, wanted)


def _held_rows(
    session: Session, table: type[Landing], page: Sequence[Fresh[Row]], people: Mapping[str, int]
) -> dict[str, int]:
    """Return the rows that an earlier file brought, by their keys."""
    ids = set(people.values())
    keys = {fresh.key for fresh in page}
    wanted = select(table.ref, table.id).where(table.person_id.in_(ids), table.ref.is_not(None))
    rows = session.execute(wanted.where(table.void_at.is_(None))).all()
    return {ref: number for ref, number in rows if ref is not None and ref in keys}


def _void(session: Session, batch: Batch, kind: type[Landing], numbers: Sequence[int]) -> None:
    if numbers:
        table = table_of(kind)
        void = {"void_at": batch.desk.now, "void_by_id": batch.desk.by.id, "void_why": CHANGED}
        session.execute(update(table).where(table.c.id.in_(numbers)).values(**void))
        wanted = select(table.c.id, table.c.person_id).where(table.c.id.in_(numbers))
        for number, person_id in session.execute(wanted.order_by(table.c.id)):
            batch.tell("voided", kind.__tablename__, number, person_id, CHANGED)


def write_contacts(
    session: Session, batch: Batch, page: Sequence[Fresh[ContactRow]]
) -> Refused[ContactRow]:
    """Write some contacts; one whose note changed takes the place of the old row."""
    people = _people(session, page)
    _land(
        session,
        batch,
        _Kind("contacts", "contact", tables.Contact, _contact_row, _taken_off),
        page,
        people,
    )
    return _unknown(session, page, people)


def _taken_off(
    session: Session,
    batch: Batch,
    page: Sequence[Fresh[ContactRow]],
    people: Mapping[str, int],
) -> set[str]:
    """Return the contacts that a file brought, and that the desk took off since."""
    seen = file_digests(session, "contacts", [fresh.key for fresh in page])
    held = _held_rows(session, tables.Contact, page, people)
    gone = {fresh.key for fresh in page if fresh.key in seen and fresh.key not in held}
    for fresh in page:
        if fresh.key in gone:
            batch.told.append(
                f"contact of {fresh.row.person} on {fresh.row.on}: was taken off at the desk, and "
                "stays off"
            )
    return gone


def _contact_row(batch: Batch, row: ContactRow) -> dict[str, Any]:
    return {
        "on": row.on,
        "channel": row.channel,
        "outcome": row.outcome,
        "until": row.call_on,
        "spoke_with": "",
        "note": _note(row),
    }


def _note(row: ContactRow) -> str:
    """Return the note with the time and who tried, where the file says."""
    tried = f"By {row.by}." if row.by else ""
    at = f"At {row.at:%H:%M}." if row.at else ""
    return " ".join(filter(None, (row.note, at, tried)))


_TIME_IN_NOTE = re.compile(r"(?:^| )At (\d\d):\d\d\.(?: By .+\.)?$")


def hour_in_note(note: str) -> int | None:
    """Return the hour of a contact from a file, where the file gave one; `_note` writes it.

    >>> hour_in_note("Spoke to the neighbour. At 14:36. By R. Thackray."), hour_in_note("At noon.")
    (14, None)
    """
    found = _TIME_IN_NOTE.search(note)
    return int(found[1]) if found else None


def write_bookings(
    session: Session, batch: Batch, page: Sequence[Fresh[BookingRow]]
) -> Refused[BookingRow]:
    """Write some bookings, each with how it ended; a changed one takes the old row's place."""
    people, values = _people(session, page), partial(_booking_row, _staff_names(session))
    kind = _Kind("bookings", "booking", tables.Booking, values, recognised)
    ended = [
        {**batch.made, "on": fresh.row.on, "booking_id": number, "what": fresh.row.status}
        for number, fresh in _land(session, batch, kind, page, people)
        if fresh.row.status != "made"
    ]
    insert_rows(session, tables.BookingEvent, ended)
    return _unknown(session, page, people)


def _staff_names(session: Session) -> dict[str, int]:
    c = tables.Staff
    named = pairs(session, select(c.name, c.id))
    return {name.casefold(): number for name, number in named.items()}


def _booking_row(staff: Mapping[str, int], batch: Batch, row: BookingRow) -> dict[str, Any]:
    """Return the row of a booking; the file does not say when it was made."""
    staff_id = staff.get(row.with_.casefold())
    unknown = "" if staff_id or not row.with_ else f"With {row.with_}."
    return {
        "on": _made_on(row.on, batch.desk.today),
        "starts_local": datetime.combine(row.on, row.at),
        "zone": batch.desk.config.calendar.time_zone,
        "minutes": row.minutes,
        "staff_id": staff_id,
        "note": " ".join(filter(None, (row.note, unknown))),
    }


def _made_on(day: date, today: date) -> date:
    """Return the last day on which a booking can have been made."""
    return min(today, day - _DAY)


@dataclass(frozen=True, slots=True)
class _Kind(Generic[Row]):
    """One kind of file: its name, its row's, where rows land, and what of one is stored."""

    name: str
    entity: str
    table: type[Landing]
    values: Callable[[Batch, Row], dict[str, Any]]
    stay: Callable[[Session, Batch, Sequence[Fresh[Row]], Mapping[str, int]], set[str]]
    """Gives the keys of those that stay as the register has them."""


def _land(
    session: Session,
    batch: Batch,
    kind: _Kind[Row],
    page: Sequence[Fresh[Row]],
    people: Mapping[str, int],
) -> list[tuple[int, Fresh[Row]]]:
    """Store the rows whose person is known, each in the place of what it changes.

    Returned are the numbers of the new rows, each with what it was made from.
    """
    there = [fresh for fresh in page if fresh.row.person in people]
    stay = kind.stay(session, batch, there, people)
    good = [fresh for fresh in there if fresh.key not in stay]
    held = _held_rows(session, kind.table, good, people)
    _void(session, batch, kind.table, list(held.values()))
    rows = [
        {
            **batch.made,
            **kind.values(batch, fresh.row),
            "person_id": people[fresh.row.person],
            "ref": fresh.key,
        }
        for fresh in good
    ]
    numbers = insert_numbered(session, kind.table, rows) if rows else ()
    landed = list(zip(numbers, good, strict=True))
    for number, fresh in landed:
        old, person_id = fresh.key in held, people[fresh.row.person]
        batch.note("corrected" if old else "added", kind.entity, number, person_id)
        batch.to_plan.add(person_id)
        batch.changed += old
        batch.added += not old
    batch.unchanged += len(there) - len(good)
    _remember(session, batch, kind.name, there)
    batch.done += len(page)
    return landed


def _unknown(
    session: Session, page: Sequence[Fresh[Row]], people: Mapping[str, int]
) -> Refused[Row]:
    wrong = [fresh for fresh in page if fresh.row.person not in people]
    near = nearly(session, {fresh.row.person for fresh in wrong})
    return [(fresh, unknown_person(near.get(fresh.row.person, ""))) for fresh in wrong]


def _remember(session: Session, batch: Batch, kind: str, landed: Sequence[Fresh[Row]]) -> None:
    seen = file_digests(session, kind, [fresh.key for fresh in landed])
    fields = [(fresh, field_digests({"row": fresh.digest})) for fresh in landed]
    remember(session, batch, kind, fields, seen)


def _check(
    session: Session, page: Sequence[Fresh[ContactRow]] | Sequence[Fresh[BookingRow]]
) -> Refused[Any]:
    return _unknown(session, page, _people(session, page))


def _nobody(_session: Session, _page: Sequence[Fresh[Any]]) -> set[int]:
    """Say that these rows change nothing that is asked of anybody."""
    return set()


def _booked(session: Session, page: Sequence[Fresh[BookingRow]]) -> set[int]:
    """Return whoever of a page is booked already: a row may be that booking, or move it."""
    c, p = tables.Booking, tables.Person
    wanted = select(p.id).where(
        p.ref.in_(REFS), exists().where(c.person_id == p.id, stands(c), p.void_at.is_(None))
    )
    return {number for (number,) in many(session, wanted, {fresh.row.person for fresh in page})}


def _no_days(_session: Session, _keys: Sequence[str]) -> dict[str, date]:
    """Say that these rows' days are part of what they are known by."""
    return {}


def _booked_days(session: Session, keys: Sequence[str]) -> dict[str, date]:
    c = tables.Booking
    wanted = select(c.ref, c.starts_local).where(c.ref.in_(keys), c.ref.is_not(None), stands(c))
    return {ref: at.date() for ref, at in session.execute(wanted) if ref is not None}


CONTACTS = Importer(
    "contacts",
    read_contacts,
    _contact_keys,
    write_contacts,
    about=_nobody,
    check=_check,
    known_days=_no_days,
)
BOOKINGS = Importer(
    "bookings",
    read_bookings,
    lambda: _booking_key,
    write_bookings,
    about=_booked,
    check=_check,
    known_days=_booked_days,
)
