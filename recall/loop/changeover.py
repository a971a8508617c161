"""What was asked for before the practice went live: history, until somebody has looked through it.

It is neither rung about nor written about nor chased. It stops being history by what happens
about it from that day on: an answer, an appointment, a visit, word that waits for a clinician.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from recall.care.case import Urgency
from recall.loop.facts import Booked, Contact, Decided, Event, Facts
from recall.loop.outcomes import BY_ID
from recall.loop.trail import PENDING
from recall.protocol.contact import ContactProtocol
from recall.schedule.plan import Due

OWN_LIMIT: dict[Urgency, timedelta] = {
    "emergency": timedelta(days=1),
    "urgent": timedelta(weeks=2),
}
"""What was asked for within its own limit before the day is today's work, whatever its window."""


def is_of_before(urgency: Urgency, asked_on: date, latest: date, went_live: date | None) -> bool:
    """Return whether an ask, by its days alone, is of before the day the practice went live."""
    if went_live is None or asked_on >= went_live or latest >= went_live:
        return False
    limit = OWN_LIMIT.get(urgency)
    return limit is None or asked_on + limit < went_live


def due_of_before(due: Due, went_live: date | None) -> bool:
    """Return the same for a due."""
    return is_of_before(due.urgency, due.asked_on, due.latest, went_live)


def is_history(facts: Facts, events: Iterable[Event], on: date, rules: ContactProtocol) -> bool:
    """Return whether a follow-up waits to be looked through on a day, by what had happened."""
    live = rules.live_from()
    if live is None or not facts.from_file:
        return False
    latest = max(facts.latest, facts.all_by)
    if not is_of_before(facts.urgency, facts.asked_on, latest, live):
        return False
    return not visited(facts.visited_on, on, live) and not any(_ends(e, live) for e in events)


def _ends(event: Event, live: date) -> bool:
    """Return whether something that happened makes it today's work.

    That is an appointment from that day on, a clinician's decision, or what somebody said that
    waits for one. A call without an answer, a letter or a check of the address is no answer.
    """
    if isinstance(event, Booked):
        return max(event.on, event.day) >= live
    if isinstance(event, Contact):
        return event.on >= live and BY_ID[event.outcome].then in PENDING
    return event.on >= live and isinstance(event, Decided)


def visited(visited_on: date | None, on: date, live: date) -> bool:
    """Return whether a person was seen here by a day, since the practice went live."""
    return visited_on is not None and live <= visited_on <= on
