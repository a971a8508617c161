"""Appointments of one follow-up: which may be made, how they end, and what repeated misses mean.

A child who did not attend *was not brought* (RCGP safeguarding toolkit; Sussex procedures
5.3): patterns count, and cancelling again and again counts with them. The number in a row
that asks for a clinician is the practice's own.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from recall.care.dates import is_child
from recall.errors import Refused
from recall.loop.facts import Booked, BookingEnded, Ending, Event, Facts
from recall.schedule.calendar import say_day

MISSED: frozenset[Ending] = frozenset({"did_not_attend", "was_not_brought"})
CALLED_OFF_BY_OTHERS: frozenset[Ending] = frozenset({"cancelled_by_person", "moved_by_person"})
NOT_COUNTED: frozenset[Ending] = frozenset({"cancelled_by_practice", "moved_by_practice"})
"""Our own doing: it neither counts against anybody nor ends a pattern."""


def brought_by_others(facts: Facts, on: date) -> bool:
    """Return whether others bring this person, so that a miss is not their own."""
    return facts.dependent or is_child(facts.born, on)


def missed_word(facts: Facts, on: date) -> Ending:
    """Return how an appointment ended to which nobody came."""
    return "was_not_brought" if brought_by_others(facts, on) else "did_not_attend"


def check_booking(facts: Facts, day: date, *, made_on: date, why_late: str = "") -> str:
    """Return what to tell whoever books this day, or nothing.

    Raises:
        Refused: the day has gone by, or lies after the latest without a reason.
    """
    if day < made_on:
        raise Refused(
            f"{say_day(day)} has gone by.", hint="Choose a day from today on, or record a visit."
        )
    if day > facts.latest and not why_late.strip():
        raise Refused(
            f"{say_day(day)} is after the latest day, {say_day(facts.latest)}.",
            hint="Give the reason; it stays on the overdue list until the visit.",
        )
    if day > facts.latest:
        return f"After the latest day, {say_day(facts.latest)}: stays on the overdue list."
    if day < facts.earliest:
        return f"Before the earliest day, {say_day(facts.earliest)}: may have to be done again."
    return ""


def misses_in_a_row(events: Iterable[Event], *, by_others: bool) -> int:
    """Return how many appointments in a row, up to the last, were missed.

    Where others bring the person, appointments that those others called off or moved count
    as well. A kept one starts the count again.
    """
    counted = MISSED | CALLED_OFF_BY_OTHERS if by_others else MISSED
    row = 0
    for event in events:
        if not isinstance(event, BookingEnded) or event.how in NOT_COUNTED:
            continue
        if event.how in counted:
            row += 1
        elif event.how == "attended":
            row = 0
    return row


def open_booking(events: Iterable[Event]) -> Booked | None:
    """Return the appointment that stands: the last one made that has not ended."""
    going: dict[int, Booked] = {}
    for event in events:
        if isinstance(event, Booked):
            going.pop(event.booking, None)
            going[event.booking] = event
        elif isinstance(event, BookingEnded):
            going.pop(event.booking, None)
    return list(going.values())[-1] if going else None
