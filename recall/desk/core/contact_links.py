"""Finding the follow-up that an imported contact or booking was about.

The practice's file names the person alone. A contact counts for the most pressing of the
person's follow-ups that had been asked for by then and whose time was coming; one that was
about something answered long ago stays with the person and moves nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, TypeVar

from sqlalchemy import insert, select, update
from sqlalchemy.orm import Session

from recall.exchange.contacts_in import DONE
from recall.protocol.contact_steps import RUN_LETTERS
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import read_as, table_of, whole

AHEAD = timedelta(weeks=8)
"""So long before a window opens somebody may already be asked to come."""
LETTERS = ("letter", "email")
Loose = TypeVar("Loose", tables.Contact, tables.Booking)


@dataclass(frozen=True)
class _Open:
    """An open follow-up, as far as linking looks at it."""

    id: int
    on: date
    earliest: date
    target: date
    latest: date


def link(session: Session, person_ids: Sequence[int]) -> None:
    """Link the imported contacts and bookings of some people that belong to nothing yet."""
    contacts = _loose(session, tables.Contact, person_ids)
    bookings = _loose(session, tables.Booking, person_ids)
    if not contacts and not bookings:
        return
    about = {c.person_id for c in contacts} | {b.person_id for b in bookings}
    follow_ups = _open_ones(session, sorted(about))
    for row in bookings:
        mine = follow_ups.get(row.person_id, ())
        found = _meant(mine, row.starts_local.date())
        if found:
            _set(session, tables.Booking, row.id, follow_up_id=found.id)
    for person_id, rows in _by_person(contacts).items():
        _link_contacts(session, rows, follow_ups.get(person_id, ()))


def _loose(session: Session, table: type[Loose], person_ids: Sequence[int]) -> Sequence[Loose]:
    wanted = select(whole(table)).where(
        table.person_id.in_(person_ids),
        table.follow_up_id.is_(None),
        table.ref.is_not(None),
        stands(table),
    )
    return session.scalars(wanted.order_by(table.person_id, table.on, table.id)).all()


def _by_person(rows: Sequence[tables.Contact]) -> dict[int, list[tables.Contact]]:
    found: dict[int, list[tables.Contact]] = defaultdict(list)
    for row in rows:
        found[row.person_id].append(row)
    return found


def _open_ones(session: Session, person_ids: Sequence[int]) -> dict[int, list[_Open]]:
    c = tables.FollowUp
    wanted = (
        select(c.person_id, read_as(_Open, tables.FollowUp))
        .where(c.person_id.in_(person_ids), c.is_open, stands(tables.FollowUp))
        .order_by(c.urgency_rank, c.latest, c.id)
    )
    found: dict[int, list[_Open]] = defaultdict(list)
    for person_id, follow_up in session.execute(wanted):
        found[person_id].append(follow_up)
    return found


def _meant(mine: Sequence[_Open], day: date) -> _Open | None:
    """Return the most pressing one asked for before a day, those whose time was coming first."""
    asked = [f for f in mine if f.on < day]
    coming = [f for f in asked if f.earliest - AHEAD <= day]
    return next(iter(coming or asked), None)


def _link_contacts(session: Session, rows: Sequence[tables.Contact], mine: Sequence[_Open]) -> None:
    """Link one person's contacts, in order, and say which letter each letter was."""
    letters: dict[int, int] = defaultdict(int)
    for row in rows:
        found = _meant(mine, row.on)
        if found is None:
            continue
        values: dict[str, Any] = {"follow_up_id": found.id}
        if row.outcome in DONE:
            _done(session, row, found.id)
        if row.channel in LETTERS and row.outcome == "message_sent":
            letters[found.id] += 1
            values["step"] = _letter_step(found, row.on, letters[found.id])
        _set(session, tables.Contact, row.id, **values)


def _done(session: Session, row: tables.Contact, follow_up_id: int) -> None:
    """Keep what was done beside contacts as the loop keeps it."""
    made = {"on": row.on, "recorded_at": row.recorded_at, "by_id": row.by_id}
    values = {"what": row.outcome, "why": row.note, "until": None, **made}
    session.execute(
        insert(table_of(tables.FollowUpEvent)).values(follow_up_id=follow_up_id, **values)
    )


def _letter_step(follow_up: _Open, on: date, number: int) -> str:
    if on >= follow_up.latest:
        return RUN_LETTERS[-1]
    return RUN_LETTERS[0 if number == 1 else 1]


def _set(session: Session, kind: type[tables.Base], number: int, **values: Any) -> None:
    table = table_of(kind)
    session.execute(update(table).where(table.c.id == number).values(**values))
