"""What the events of a follow-up amount to by a day: a fold that asks no rule and sets no date."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from functools import singledispatch

from recall.loop.bookings import MISSED, brought_by_others, misses_in_a_row, open_booking
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
from recall.loop.outcomes import BY_ID, CALLS, Channel, Outcome, Silence

PENDING = ("clinician_call", "decision", "ask_result")
"""What an outcome may leave to be done before the run goes on."""


@dataclass(frozen=True)
class Trail:
    """What has happened, as far as it decides what is next."""

    events: tuple[Event, ...] = ()
    """Those known by the day, in order."""
    last_on: date | None = None
    closed: Closed | None = None
    silence: tuple[Silence | str, date] | None = None
    """Why nobody may be contacted, and since when."""
    pending: Contact | None = None
    """A contact whose outcome waits for a clinician, a decision or a result."""
    agreed: Contact | Held | None = None
    """A contact, or a hold, that put off the next step to a day."""
    doubt_on: date | None = None
    """Since when an address or number is in doubt."""
    address_checked_on: date | None = None
    gp_told_on: date | None = None
    looked_on: date | None = None
    decided_on: date | None = None
    attended_on: date | None = None
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
    since_missed: tuple[Contact | Posted, ...] = field(default=())
    misses: int = 0
    """Missed in a row since somebody last decided."""

    @property
    def attempts(self) -> tuple[tuple[Channel, date], ...]:
        """Everything that counts as having tried to reach the person in this round."""
        counted = [(c.channel, c.on) for c in self.tries if BY_ID[c.outcome].counts]
        return (*counted, *(("letter", p.on) for p in self.letters))


def read_trail(facts: Facts, on: date) -> Trail:
    """Return what had happened by a day."""
    events = tuple(event for event in facts.events if event.on <= on)
    trail = Trail(events=events)
    for event in events:
        trail = replace(_then(event, trail), last_on=max(event.on, trail.last_on or event.on))
    since = _since_decided(events)
    by_others = brought_by_others(facts, on)
    trail = replace(
        trail,
        booking=open_booking(events),
        misses=misses_in_a_row(since, by_others=by_others),
    )
    return _with_person(trail, facts, on)


def _since_decided(events: tuple[Event, ...]) -> tuple[Event, ...]:
    """Return the events after the last decision of a clinician."""
    decided = [n for n, event in enumerate(events) if isinstance(event, Decided)]
    return events[decided[-1] + 1 :] if decided else events


def _with_person(trail: Trail, facts: Facts, on: date) -> Trail:
    """Add what is recorded about the person rather than this follow-up."""
    known: tuple[tuple[str, date | None], ...] = (
        ("died", facts.died_on),
        ("objected", facts.objected_on),
        ("unsafe", facts.unsafe_on),
    )
    for word, since in known:
        if since is not None and since <= on and (word == "died" or trail.silence is None):
            trail = replace(trail, silence=(word, since))
            break
    moved, checked = facts.moved_on, trail.address_checked_on
    if moved is not None and moved <= on and (checked is None or checked < moved):
        trail = replace(trail, doubt_on=trail.doubt_on or moved)
    return trail


def _new_round(trail: Trail) -> Trail:
    """Return the trail with nothing tried yet."""
    cleared = replace(trail, tries=(), letters=(), agreed=None, missed=None, since_missed=())
    return replace(cleared, round=trail.round + 1)


@singledispatch
def _then(event: Event, trail: Trail) -> Trail:
    """Return the trail after one more event."""
    raise TypeError(type(event))


@_then.register
def _(event: Contact, trail: Trail) -> Trail:
    outcome = BY_ID[event.outcome]
    if not event.by_them:
        trail = replace(
            trail,
            tries=(*trail.tries, event),
            since_missed=(*trail.since_missed, event) if trail.missed else (),
        )
    return _after_outcome(trail, event, outcome)


def _after_outcome(trail: Trail, event: Contact, outcome: Outcome) -> Trail:
    """Return the trail with what the outcome leaves to be done."""
    firm = trail.pending is not None and BY_ID[trail.pending.outcome].then == "clinician_call"
    if outcome.then in PENDING and not (firm and outcome.then != "clinician_call"):
        trail = replace(trail, pending=event)
    if outcome.then in ("call", "letter"):
        asked_before = any(letter.kind == "asked_letter" for letter in trail.letters)
        again = outcome.then == "letter" and asked_before
        trail = replace(trail, agreed=event, round=trail.round + again)
    elif outcome.reached or (event.channel in CALLS and not event.by_them):
        trail = replace(trail, agreed=None)
    if outcome.then == "address_check":
        trail = replace(trail, doubt_on=event.on)
    if outcome.silence and not (trail.silence and trail.silence[0] == "died"):
        trail = replace(trail, silence=(outcome.silence, event.on))
    return trail


@_then.register
def _(event: Posted, trail: Trail) -> Trail:
    agreed = trail.agreed
    if isinstance(agreed, Contact) and BY_ID[agreed.outcome].then == "letter":
        agreed = None
    since = (*trail.since_missed, event) if trail.missed else ()
    return replace(trail, letters=(*trail.letters, event), agreed=agreed, since_missed=since)


@_then.register
def _(event: Returned, trail: Trail) -> Trail:
    kept = tuple(letter for letter in trail.letters if letter.on != event.posted_on)
    return replace(trail, letters=kept, doubt_on=event.on, round=trail.round + 1)


@_then.register
def _(event: Booked, trail: Trail) -> Trail:
    """An appointment settles what was waiting, but for a call to a clinician."""
    pending = trail.pending
    if pending is not None and BY_ID[pending.outcome].then != "clinician_call":
        pending = None
    return replace(trail, pending=pending, agreed=None, missed=None, since_missed=())


@_then.register
def _(event: BookingEnded, trail: Trail) -> Trail:
    """Who came was reached: what is still open afterwards starts a round of its own."""
    if event.how == "attended":
        return replace(_new_round(trail), round_on=None, attended_on=event.on)
    again = event.how in MISSED
    return replace(trail, missed=event, since_missed=(), round=trail.round + again)


@_then.register
def _(event: Looked, trail: Trail) -> Trail:
    return replace(trail, looked_on=event.on)


@_then.register
def _(event: AddressChecked, trail: Trail) -> Trail:
    return replace(trail, address_checked_on=event.on, doubt_on=None)


@_then.register
def _(event: GpTold, trail: Trail) -> Trail:
    return replace(trail, gp_told_on=event.on)


@_then.register
def _(event: Held, trail: Trail) -> Trail:
    return replace(trail, agreed=event)


@_then.register
def _(event: Decided, trail: Trail) -> Trail:
    trail = replace(trail, pending=None, decided_on=event.on)
    if trail.silence and trail.silence[0] != "died":
        trail = replace(trail, silence=None)
    if event.what == "carry_on":
        return trail
    return replace(_new_round(trail), round_on=event.on)


@_then.register
def _(event: Closed, trail: Trail) -> Trail:
    return replace(trail, closed=event)
