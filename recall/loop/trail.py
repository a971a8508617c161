"""What the events of a follow-up amount to by a day: a fold that asks no rule and sets no date."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import msgspec

from recall.loop.booking_rules import MISSED, brought_by_others, misses_in_a_row, open_booking
from recall.loop.facts import (
    AddressChecked,
    Booked,
    BookingEnded,
    Closed,
    Contact,
    Decided,
    Event,
    Facts,
    GpTold,
    Held,
    Looked,
    Posted,
    Returned,
)
from recall.loop.outcomes import BY_ID, CALLS, Channel, ContactStop, Outcome

PENDING = ("clinician_call", "decision", "ask_result")
"""What an outcome may leave to be done before the run goes on."""
COUNTS_AHEAD = timedelta(weeks=2)
"""Attempts longer before a window opens never count towards lost: common practice, no source."""


class Trail(msgspec.Struct):
    """What has happened, as far as it decides what is next. Written by `read_trail` alone."""

    events: tuple[Event, ...] = ()
    """Those known by the day, in order."""
    evidence_from: date = date.min
    """From this day on what was done is about all that the follow-up holds."""
    counts_from: date = date.min
    """From this day on attempts count towards lost."""
    closed: Closed | None = None
    contact_stopped: tuple[ContactStop, date] | None = None
    """Why nobody may be contacted, and since when."""
    pending: Contact | None = None
    """A contact whose outcome waits for a clinician, a decision or a result."""
    agreed: Contact | Held | None = None
    """A contact, or a hold, that put off the next step to a day."""
    rings_again: bool = True
    """A call without an answer in the morning and that of the afternoon are one try; in an
    emergency each is a try of its own."""
    again: Contact | None = None
    """A call that is made once more the same day, until anything else is done."""
    doubt_on: date | None = None
    """Since when an address or number is in doubt."""
    number_gone: Contact | None = None
    """A call on a number that does not reach them, and since which no other was rung."""
    address_checked_on: date | None = None
    gp_told_on: date | None = None
    looked_on: date | None = None
    decided_on: date | None = None
    attended_on: date | None = None
    untold: BookingEnded | None = None
    """Where they came and nothing was said of it since: no visit with it, call, appointment or
    decision. A visit that was recorded otherwise is not an event of the follow-up."""
    round: int = 1
    """Each letter goes out once in a round. One that came back, an appointment missed, a second
    wish for a letter, a visit and a decision to keep trying start the next."""
    round_on: date | None = None
    """The day on which somebody decided to keep trying."""
    tries: tuple[Contact, ...] = ()
    """Our own attempts in this round."""
    letters: tuple[Posted, ...] = ()
    """Letters of this round that did not come back."""
    booking: Booked | None = None
    missed: BookingEnded | None = None
    """The last appointment, where it was not kept and no other was made since."""
    since_missed: tuple[Contact | Posted, ...] = ()
    misses: int = 0
    """Missed in a row since somebody last decided."""

    @property
    def attempts(self) -> tuple[tuple[Channel, date], ...]:
        """Everything that counts as having tried to reach the person about this in this round."""
        counted = [(c.channel, c.on) for c in self.tries if BY_ID[c.outcome].counts and c.proves]
        tried = (*counted, *((p.by, p.on) for p in self.letters))
        return tuple((channel, on) for channel, on in tried if on >= self.counts_from)

    @property
    def too_late(self) -> int:
        """Return how many attempts count for nothing because they were entered so late."""
        late = [c for c in self.tries if BY_ID[c.outcome].counts and not c.proves]
        return sum(c.on >= self.counts_from for c in late)

    @property
    def is_checked(self) -> bool:
        """Return whether the address was checked since this was asked, and is in no doubt."""
        checked = self.address_checked_on
        return checked is not None and checked >= self.evidence_from and self.doubt_on is None


def read_trail(facts: Facts, on: date) -> Trail:
    """Return what had happened by a day."""
    events = tuple(event for event in facts.events if event.on <= on)
    trail = Trail(
        events=events,
        evidence_from=facts.evidence_from,
        rings_again=facts.urgency != "emergency",
        counts_from=max(facts.evidence_from, _ahead_of(facts.earliest)),
    )
    for event in events:
        _READ[type(event)](event, trail)
    if events:
        trail.booking = open_booking(events)
        by_others = brought_by_others(facts, on)
        trail.misses = misses_in_a_row(_since_decided(events), by_others=by_others)
    _add_person(trail, facts, on)
    return trail


def _ahead_of(earliest: date) -> date:
    return earliest - min(COUNTS_AHEAD, earliest - date.min)


def _since_decided(events: tuple[Event, ...]) -> tuple[Event, ...]:
    """Return the events after the last decision of a clinician."""
    for n in range(len(events) - 1, -1, -1):
        if isinstance(events[n], Decided):
            return events[n + 1 :]
    return events


def _add_person(trail: Trail, facts: Facts, on: date) -> None:
    """Add what is recorded about the person rather than this follow-up."""
    known: tuple[tuple[ContactStop, date | None], ...] = (
        ("died", facts.died_on),
        ("objected", facts.objected_on),
        ("unsafe", facts.unsafe_on),
    )
    for word, since in known:
        if since is not None and since <= on and (word == "died" or trail.contact_stopped is None):
            trail.contact_stopped = (word, since)
            break
    if trail.number_gone and not facts.can_call:
        trail.doubt_on = trail.doubt_on or trail.number_gone.on
    moved, checked = facts.moved_on, trail.address_checked_on
    if moved is not None and moved <= on and (checked is None or checked < moved):
        trail.doubt_on = trail.doubt_on or moved


def _contact(event: Contact, trail: Trail) -> None:
    again, trail.again = trail.again, None
    trail.untold = None
    if not event.by_them:
        same = again is not None and again.on == event.on and event.channel in CALLS
        before = tuple(each for each in trail.tries if each is not again or not same)
        trail.tries = (*before, event)
        trail.again = event if trail.rings_again and event.comes_back else None
        if trail.missed:
            trail.since_missed += (event,)
    outcome = BY_ID[event.outcome]
    firm = trail.pending is not None and BY_ID[trail.pending.outcome].then == "clinician_call"
    if outcome.then in PENDING and (not firm or outcome.then == "clinician_call"):
        trail.pending = event
    if outcome.then == "address_check":
        trail.doubt_on = event.on
    _number(event, outcome, trail)
    if outcome.stops_contact and not (trail.contact_stopped and trail.contact_stopped[0] == "died"):
        trail.contact_stopped = (outcome.stops_contact, event.on)
    _agree(event, outcome, trail)


def _number(event: Contact, outcome: Outcome, trail: Trail) -> None:
    """Keep that a number does not reach them until another was rung, or they were reached."""
    if outcome.ends_number:
        trail.number_gone = event
    elif outcome.reached or (event.channel in CALLS and not event.by_them):
        trail.number_gone = None


def _agree(event: Contact, outcome: Outcome, trail: Trail) -> None:
    """Keep what was agreed until somebody is reached, or our own call has been made."""
    if outcome.then in ("call", "letter"):
        asked_before = any(letter.kind == "asked_letter" for letter in trail.letters)
        trail.round += outcome.then == "letter" and asked_before
        trail.agreed = event
    elif outcome.reached or (event.channel in CALLS and not event.by_them):
        trail.agreed = (
            None if outcome.reached or not _is_ahead(trail.agreed, event) else trail.agreed
        )


def _is_ahead(agreed: Contact | Held | None, event: Contact) -> bool:
    """Return whether an hour was promised for a later day than that of a call of ours."""
    if not isinstance(agreed, Contact) or agreed.until is None or agreed.until_at is None:
        return False
    return event.on < agreed.until


def _posted(event: Posted, trail: Trail) -> None:
    agreed = trail.agreed
    if isinstance(agreed, Contact) and BY_ID[agreed.outcome].then == "letter":
        trail.agreed = None
    trail.letters += (event,)
    if trail.missed:
        trail.since_missed += (event,)


def _returned(event: Returned, trail: Trail) -> None:
    trail.letters = tuple(letter for letter in trail.letters if letter.on != event.posted_on)
    trail.doubt_on = event.on
    trail.round += 1


def _booked(event: Booked, trail: Trail) -> None:
    """An appointment settles what was waiting, but for a call to a clinician."""
    pending = trail.pending
    if pending is not None and BY_ID[pending.outcome].then != "clinician_call":
        trail.pending = None
    trail.again = trail.agreed = trail.missed = trail.untold = None
    trail.since_missed = ()
    trail.number_gone = None


def _booking_ended(event: BookingEnded, trail: Trail) -> None:
    """Who came was reached: what is still open afterwards starts a round of its own."""
    if event.how == "attended":
        _new_round(trail)
        trail.round_on, trail.attended_on = None, event.on
        trail.untold = None if event.with_visit else event
        return
    trail.missed, trail.since_missed = event, ()
    trail.round += event.how in MISSED


def _looked(event: Looked, trail: Trail) -> None:
    trail.looked_on = event.on


def _address_checked(event: AddressChecked, trail: Trail) -> None:
    if event.proves:
        trail.address_checked_on, trail.doubt_on = event.on, None
        trail.number_gone = None


def _gp_told(event: GpTold, trail: Trail) -> None:
    if event.proves:
        trail.gp_told_on = event.on


def _held(event: Held, trail: Trail) -> None:
    trail.again = None
    trail.agreed = event


def _decided(event: Decided, trail: Trail) -> None:
    trail.pending, trail.decided_on, trail.untold = None, event.on, None
    if trail.contact_stopped and trail.contact_stopped[0] != "died":
        trail.contact_stopped = None
    if event.what == "keep_trying":
        _new_round(trail)
        trail.round_on = event.on


def _closed(event: Closed, trail: Trail) -> None:
    trail.closed = event


def _new_round(trail: Trail) -> None:
    """Start again with nothing tried yet."""
    trail.round += 1
    trail.tries, trail.letters, trail.since_missed = (), (), ()
    trail.again = trail.agreed = trail.missed = trail.number_gone = None


_READ: dict[type, Callable[[Any, Trail], None]] = {
    Contact: _contact,
    Posted: _posted,
    Returned: _returned,
    Booked: _booked,
    BookingEnded: _booking_ended,
    Looked: _looked,
    AddressChecked: _address_checked,
    GpTold: _gp_told,
    Held: _held,
    Decided: _decided,
    Closed: _closed,
}
