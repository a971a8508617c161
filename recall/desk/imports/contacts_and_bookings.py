"""Contacts and bookings from files: what was tried so far, what is booked, what became of it.

A file names the person, not what it was about: `linking` finds the follow-up meant.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any, TypeVar

from sqlalchemy import select, update
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
from recall.desk.imports.visits import UNKNOWN_PERSON
from recall.exchange.bookings_in import BookingRow, read_bookings
from recall.exchange.contacts_in import ContactRow, read_contacts
from recall.exchange.problem import Wrong
from recall.records import tables
from recall.records.database.bulk import insert_numbered, insert_rows
from recall.records.tables.statements import table_of

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


def _sort_out(
    page: Sequence[Fresh[Row]], people: Mapping[str, int]
) -> tuple[list[Fresh[Row]], list[tuple[Fresh[Row], Wrong]]]:
    good = [fresh for fresh in page if fresh.row.person in people]
    return good, [(f, UNKNOWN_PERSON) for f in page if f.row.person not in people]


def _void(session: Session, batch: Batch, kind: type[Landing], numbers: Sequence[int]) -> None:
    if numbers:
        table = table_of(kind)
        void = {"void_at": batch.desk.now, "void_by_id": batch.desk.by.id, "void_why": CHANGED}
        session.execute(update(table).where(table.c.id.in_(numbers)).values(**void))


def write_contacts(
    session: Session, batch: Batch, page: Sequence[Fresh[ContactRow]]
) -> Refused[ContactRow]:
    """Write some contacts; one whose note changed takes the place of the old row."""
    people = _people(session, page)
    good, refused = _sort_out(page, people)
    held_rows = _held_rows(session, tables.Contact, good, people)
    _void(session, batch, tables.Contact, list(held_rows.values()))
    values = [
        {
            **batch.made,
            "on": fresh.row.on,
            "person_id": people[fresh.row.person],
            "ref": fresh.key,
            "channel": fresh.row.channel,
            "outcome": fresh.row.outcome,
            "until": fresh.row.call_on,
            "spoke_with": "",
            "note": _note(fresh.row),
        }
        for fresh in good
    ]
    _insert(
        session, batch, tables.Contact, "contact", list(zip(good, values, strict=True)), held_rows
    )
    _remember(session, batch, "contacts", good)
    batch.done += len(page)
    return refused


def _note(row: ContactRow) -> str:
    """Return the note with who tried, where the file says."""
    tried = f"By {row.by}." if row.by else ""
    at = f"At {row.at:%H:%M}." if row.at else ""
    return " ".join(filter(None, (row.note, at, tried)))


def write_bookings(
    session: Session, batch: Batch, page: Sequence[Fresh[BookingRow]]
) -> Refused[BookingRow]:
    """Write some bookings, each with how it ended; a changed one takes the old row's place."""
    people = _people(session, page)
    good, refused = _sort_out(page, people)
    held_rows = _held_rows(session, tables.Booking, good, people)
    _void(session, batch, tables.Booking, list(held_rows.values()))
    staff = _staff_names(session)
    values = [_booking_row(batch, fresh.row, people, staff, fresh.key) for fresh in good]
    pairs = list(zip(good, values, strict=True))
    ids = _insert(session, batch, tables.Booking, "booking", pairs, held_rows)
    ended = [
        {**batch.made, "on": fresh.row.on, "booking_id": number, "what": fresh.row.status}
        for number, fresh in zip(ids, good, strict=True)
        if fresh.row.status != "made"
    ]
    insert_rows(session, tables.BookingEvent, ended)
    _remember(session, batch, "bookings", good)
    batch.done += len(page)
    return refused


def _staff_names(session: Session) -> dict[str, int]:
    c = tables.Staff
    named = pairs(session, select(c.name, c.id))
    return {name.casefold(): number for name, number in named.items()}


def _booking_row(
    batch: Batch, row: BookingRow, people: Mapping[str, int], staff: Mapping[str, int], key: str
) -> dict[str, Any]:
    """Return the row of a booking; the file does not say when it was made."""
    staff_id = staff.get(row.with_.casefold())
    unknown = "" if staff_id or not row.with_ else f"With {row.with_}."
    return {
        **batch.made,
        "on": _made_on(row.on, batch.desk.today),
        "person_id": people[row.person],
        "ref": key,
        "starts_local": datetime.combine(row.on, row.at),
        "zone": batch.desk.config.calendar.time_zone,
        "minutes": row.minutes,
        "staff_id": staff_id,
        "note": " ".join(filter(None, (row.note, unknown))),
    }


def _made_on(day: date, today: date) -> date:
    """Return the last day on which a booking can have been made."""
    return min(today, day - _DAY)


def _insert(
    session: Session,
    batch: Batch,
    table: type[Landing],
    entity: str,
    rows: Sequence[tuple[Fresh[Row], dict[str, Any]]],
    held_rows: Mapping[str, int],
) -> Sequence[int]:
    if not rows:
        return []
    ids = insert_numbered(session, table, [values for _fresh, values in rows])
    for number, (fresh, values) in zip(ids, rows, strict=True):
        old = fresh.key in held_rows
        batch.note("corrected" if old else "added", entity, number, values["person_id"])
        batch.to_plan.add(values["person_id"])
        batch.changed += old
        batch.added += not old
    return ids


def _remember(session: Session, batch: Batch, kind: str, landed: Sequence[Fresh[Row]]) -> None:
    seen = file_digests(session, kind, [fresh.key for fresh in landed])
    fields = [(fresh, field_digests({"row": fresh.digest})) for fresh in landed]
    remember(session, batch, kind, fields, seen)


CONTACTS = Importer("contacts", read_contacts, _contact_keys, write_contacts)
BOOKINGS = Importer("bookings", read_bookings, lambda: _booking_key, write_bookings)
