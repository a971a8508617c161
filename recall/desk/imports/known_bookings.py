"""Bookings that are known already: typed at the desk too, ended there, taken off, or moved."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from recall.desk.imports.file_digests import Batch, Fresh, file_digests
from recall.exchange.bookings_in import BookingRow
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.tables.statements import read_as

MADE = "made"
"""What a file says of a booking that has not ended."""


@dataclass(frozen=True)
class _Held:
    """A booking of the register."""

    id: int
    person_id: int
    ref: str | None
    starts_local: datetime
    recorded_at: datetime


def recognised(
    session: Session, batch: Batch, page: Sequence[Fresh[BookingRow]], people: Mapping[str, int]
) -> set[str]:
    """Return the keys of bookings that stay as the register has them; each is told."""
    held = _held(session, people.values())
    by_ref = {booking.ref: booking for booking in held}
    ends, seen = _ends(session, held), file_digests(session, "bookings", [f.key for f in page])
    places = {(b.person_id, b.starts_local, ends.get(b.id, (MADE, False))[0]) for b in held}
    stay: set[str] = set()
    for fresh in page:
        starts = datetime.combine(fresh.row.on, fresh.row.at)
        old, who = by_ref.get(fresh.key), people[fresh.row.person]
        name = f"booking {fresh.row.reference or 'of'} {fresh.row.person}, {starts:%Y-%m-%d %H:%M}"
        if old is not None and ends.get(old.id, (MADE, False))[1]:
            batch.told.append(f"{name}: what became of it was recorded at the desk, and stands")
        elif old is not None:
            if old.starts_local != starts:
                batch.told.append(f"{name}: moved from {old.starts_local:%Y-%m-%d %H:%M}")
            continue
        elif fresh.key in seen:
            batch.told.append(f"{name}: was taken off at the desk, and stays off")
        elif (who, starts, fresh.row.status) in places:
            batch.told.append(f"{name}: is booked already, and that booking stands")
        else:
            places.add((who, starts, fresh.row.status))
            continue
        stay.add(fresh.key)
    return stay


def _held(session: Session, people: Collection[int]) -> list[_Held]:
    found: list[_Held] = []
    c = tables.Booking
    for some in pages(sorted(set(people))):
        found += session.scalars(
            select(read_as(_Held, c)).where(c.person_id.in_(some), stands(c)).order_by(c.id)
        )
    return found


def _ends(session: Session, held: Sequence[_Held]) -> dict[int, tuple[str, bool]]:
    """Return how bookings ended, and whether the desk recorded it: later than they came."""
    came = {booking.id: booking.recorded_at for booking in held}
    found: dict[int, tuple[str, bool]] = {}
    c = tables.BookingEvent
    for some in pages(sorted(came)):
        wanted = select(c.booking_id, c.what, c.recorded_at).where(c.booking_id.in_(some))
        for number, what, at in session.execute(wanted.where(stands(c)).order_by(c.id)):
            found[number] = what, at != came[number]
    return found


def gone_at_the_source(
    session: Session, keys: Collection[str], first: date | None, last: date | None, today: date
) -> list[str]:
    """Return bookings to come that an earlier file brought and this one, of the same days, lacks.

    A row that is missing takes nothing away: they stand until somebody takes them off.
    """
    if first is None or last is None:
        return []
    c, seen, event = tables.Booking, tables.ImportSeen, tables.BookingEvent
    wanted = (
        select(c.ref, c.starts_local)
        .join(seen, (seen.ref == c.ref) & (seen.kind == "bookings"))
        .where(stands(c), ~exists().where(event.booking_id == c.id, stands(event)))
        .order_by(c.starts_local)
    )
    days = max(first, today), last
    return [
        f"booking {ref}, {at:%Y-%m-%d %H:%M}: is not in the file any more, and stands until "
        "somebody takes it off at the desk"
        for ref, at in session.execute(wanted)
        if ref not in keys and days[0] <= at.date() <= days[1]
    ]
