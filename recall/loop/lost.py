"""What must still be tried before somebody may be called lost, and what may then be decided.

A closed loop ends in an event, or in a valid reason that is known and recorded (gov.uk, AAA
screening failsafe processes, 2019). Nothing here closes anything: a named clinician decides.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

import msgspec
from msgspec.structs import replace

from recall.care.case import Urgency
from recall.loop.booking_rules import brought_by_others
from recall.loop.facts import Contact, Facts
from recall.loop.outcomes import BY_ID
from recall.loop.trail import Trail, read_trail
from recall.protocol.contact import ContactProtocol
from recall.schedule.plan import CloseReason

TOLD_TO_GP: frozenset[Urgency] = frozenset({"emergency", "urgent", "high"})
"""What the GP is told of that somebody cannot be reached about: common practice, no source."""
Gap = Literal["contacts", "channels", "address_check", "gp_told"]
ChoiceId = Literal[
    "keep_trying", "hand_back", "informed_decline", "transferred", "died", "other_reason"
]


class Missing(msgspec.Struct, frozen=True):
    """One thing that has not been done yet."""

    what: Gap
    words: str


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """One decision that a named clinician may take, each with its letter."""

    id: ChoiceId
    words: str
    closes_as: CloseReason | None = None
    letter: str = ""
    allowed: bool = True
    because: str = ""
    """Why it is not allowed yet."""
    prompt: str = ""
    """What to consider before deciding."""


def missing(facts: Facts, on: date, rules: ContactProtocol) -> tuple[Missing, ...]:
    """Return what has not been done yet before the person may be called lost."""
    return still_missing(facts.usable_on(on), read_trail(facts, on), rules)


def still_missing(facts: Facts, trail: Trail, rules: ContactProtocol) -> tuple[Missing, ...]:
    """Return the same, from what has already been read."""
    attempts = trail.attempts
    channels = {channel for channel, _ in attempts}
    checked = trail.is_checked
    known = len(facts.channels) if checked else rules.lost.channels
    found = []
    if len(attempts) < rules.lost.contacts and known:
        words = f"{len(attempts)} of {rules.lost.contacts} contacts"
        late = f" ({trail.too_late} more entered over a week late)" if trail.too_late else ""
        found.append(Missing("contacts", words + late))
    if len(channels) < min(rules.lost.channels, known):
        found.append(Missing("channels", "only one way tried" if channels else "no way tried"))
    if not checked:
        found.append(Missing("address_check", "address and numbers not checked"))
    told = trail.gp_told_on is not None and trail.gp_told_on >= trail.evidence_from
    if facts.gp_agreed and not told and facts.urgency in TOLD_TO_GP:
        found.append(Missing("gp_told", "GP or referrer not told, though the person agreed"))
    return tuple(found)


_ELSEWHERE = Choice(
    id="transferred", words="Now cared for elsewhere, confirmed", closes_as="transferred"
)
_DIED = Choice(id="died", words="Has died", closes_as="died")
_OTHER = Choice(
    id="other_reason",
    words="Close for another reason, written down",
    closes_as="clinician_decision",
)


def decisions(facts: Facts, on: date, rules: ContactProtocol) -> tuple[Choice, ...]:
    """Return what a named clinician may decide, and what is not allowed yet, with why."""
    trail = read_trail(facts, on)
    prompt = rules.words.safeguarding if brought_by_others(facts, on) else ""
    ends = (
        _hand_back(_too_early(facts, trail, on, rules)),
        _declines(any(_said_no(event) for event in trail.events)),
        _ELSEWHERE,
        _DIED,
        _OTHER,
    )
    asked = (each if each is _DIED else replace(each, prompt=prompt) for each in ends)
    return (Choice(id="keep_trying", words="Keep trying"), *asked)


def _too_early(facts: Facts, trail: Trail, on: date, rules: ContactProtocol) -> str:
    """Return what is still to do before somebody is handed back, in words."""
    gaps = ", ".join(gap.words for gap in still_missing(facts.usable_on(on), trail, rules))
    waits = bool(gaps) and trail.pending is None and not facts.presses
    return f"Still to do: {gaps}." if waits else ""


def _hand_back(too_early: str) -> Choice:
    return Choice(
        id="hand_back",
        words="Hand back to the GP",
        closes_as="handed_back",
        letter="hand_back_to_gp",
        allowed=not too_early,
        because=too_early,
    )


def _declines(declined: bool) -> Choice:
    no_word = "Nobody has recorded that they declined, knowing what it is for."
    return Choice(
        id="informed_decline",
        words="Informed decline",
        closes_as="informed_decline",
        allowed=declined,
        because="" if declined else no_word,
    )


def _said_no(event: object) -> bool:
    """Return whether this is somebody declining, having been told."""
    return isinstance(event, Contact) and BY_ID[event.outcome].closes_as == "informed_decline"
