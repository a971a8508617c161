"""Which appointments stand: asked in one way by whatever looks at them."""

from __future__ import annotations

from sqlalchemy import ColumnElement, exists

from recall.records.facts.cases import stands
from recall.records.tables import Booking, BookingEvent


def not_ended() -> tuple[ColumnElement[bool], ...]:
    """Return the conditions that an appointment stands and has not ended.

    One has ended that was kept or missed, called off, or moved, which made another.
    """
    over = exists().where(BookingEvent.booking_id == Booking.id, stands(BookingEvent))
    return stands(Booking), ~over
