"""What is booked and written for somebody, called off and pulled where it is wanted no more."""

from __future__ import annotations

from sqlalchemy import select

from recall.desk.core.acting import Act
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import whole


def open_bookings(act: Act) -> list[tables.Booking]:
    """Return a person's appointments that have not ended."""
    over = select(tables.BookingEvent.booking_id).where(
        tables.BookingEvent.booking_id == tables.Booking.id, stands(tables.BookingEvent)
    )
    wanted = select(whole(tables.Booking)).where(
        tables.Booking.person_id == act.person_id, stands(tables.Booking), ~over.exists()
    )
    return list(act.session.scalars(wanted.order_by(tables.Booking.id)))


def call_off(act: Act, why: str) -> int:
    """Call off every appointment from today on; return how many."""
    ahead = [b for b in open_bookings(act) if b.starts_local.date() >= act.desk.today]
    for booking in ahead:
        ends = {"booking_id": booking.id, "what": "cancelled_by_practice", "why": why}
        act.add("booking_event", **ends)
    return len(ahead)


def pull_letters(act: Act, why: str, follow_up_id: int | None = None) -> tuple[int, list[int]]:
    """Pull letters that are not printed; return how many, and which are printed.

    All of the person's, or those of one follow-up; letters to colleagues go out all the same.
    Where its step comes again, a letter that was pulled is written anew.
    """
    wanted = select(tables.Letter.id, tables.Letter.printed_at).where(
        tables.Letter.person_id == act.person_id,
        stands(tables.Letter),
        tables.Letter.posted_on.is_(None),
        tables.Letter.pulled_why.is_(None),
        tables.Letter.kind.not_in(("hand_back_to_gp", "referral")),
    )
    if follow_up_id is not None:
        wanted = wanted.where(tables.Letter.follow_up_id == follow_up_id)
    rows = act.session.execute(wanted.order_by(tables.Letter.id)).all()
    waiting = [number for number, printed_at in rows if printed_at is None]
    for number in waiting:
        act.set("letter", number, pulled_why=why)
    return len(waiting), [number for number, printed_at in rows if printed_at is not None]
