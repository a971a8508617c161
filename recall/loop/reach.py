"""What an act about a person counts for. Acts are per person; place, round and evidence are not.

A person is the follow-ups that are open for them, each with its own facts. A call, a letter or
an appointment is made once and counts for each of them that is in reach, and for no other.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import date

import msgspec

from recall.care.case import URGENCIES
from recall.loop.booking_rules import open_booking
from recall.loop.changeover import is_history
from recall.loop.facts import Facts
from recall.loop.outcomes import Outcome
from recall.loop.rundates import first_day, next_letter
from recall.loop.steps import step_after
from recall.loop.trail import read_trail
from recall.protocol.contact import ContactProtocol
from recall.protocol.contact_steps import STEP, StepKind

Tracks = Mapping[int, Facts]
"""What is open for one person, by the follow-up's number."""


class LetterStep(msgspec.Struct, frozen=True):
    """The step that a letter does for one follow-up, in its own round."""

    kind: StepKind
    round: int


class Met(msgspec.Struct, frozen=True):
    """What an appointment on a day meets, and what is in reach and has to be offered another."""

    met: tuple[int, ...]
    not_met: tuple[int, ...]


def in_reach(facts: Facts, on: date, rules: ContactProtocol) -> bool:
    """Return whether a contact on a day is about this too: its time has come, or nearly."""
    trail = read_trail(facts, on)
    if trail.closed or facts.asked_on > on or is_history(facts, trail.events, on, rules):
        return False
    if facts.earliest <= rules.span(rules.join_within).after(on):
        return True
    if first_day(facts, rules) <= on:
        return True
    step = step_after(facts, trail, on, rules)
    return step is not None and step.on <= on


def reached(tracks: Tracks, named: int, on: date, rules: ContactProtocol) -> tuple[int, ...]:
    """Return what an act counts for: the one that it names first, then all others in reach."""
    others = (n for n, facts in tracks.items() if n != named and in_reach(facts, on, rules))
    return (named, *sorted(others))


def latest_of_calls(
    known: Iterable[tuple[int, Facts]], on: date, rules: ContactProtocol
) -> dict[int, date]:
    """Return the earliest latest day of what a call to each person is about and is not booked.

    `known` are facts, each with whose they are. Who has nothing of the kind is left out.
    """
    found: dict[int, date] = {}
    for person, facts in known:
        if facts.latest >= found.get(person, date.max):
            continue
        if in_reach(facts, on, rules) and not _settled(facts, on, rules):
            found[person] = facts.latest
    return found


def contact_is_about(
    outcome: Outcome,
    tracks: Tracks,
    named: int,
    on: date,
    rules: ContactProtocol,
    which: Iterable[int] = (),
) -> tuple[int, ...]:
    """Return what a contact counts for; one that may end something only what it was said of."""
    if outcome.about == "one":
        return tuple(dict.fromkeys(which)) or (named,)
    return reached(tracks, named, on, rules)


def put_off_too(outcome: Outcome, tracks: Tracks, about: Iterable[int]) -> tuple[int, ...]:
    """Return what is out of reach and waits all the same: a person who is away is away for all."""
    if outcome.about != "person" or outcome.then != "call":
        return ()
    return tuple(sorted(tracks.keys() - set(about)))


def met_by(
    tracks: Tracks,
    named: int,
    day: date,
    on: date,
    rules: ContactProtocol,
    unable: Collection[int] = (),
) -> Met:
    """Return what an appointment made on a day meets: what it is for, and what can join it.

    That is each other one whose window holds the day, or that is late already. One that would
    become late by waiting for the day is not met, unless what the appointment is for is late by
    then too and presses no less: its reason, that they can come no sooner, holds for both. One
    that has its own day is never met, nor is what whoever sees them is `unable` to do.
    """
    first = tracks[named]
    others = {n: f for n, f in tracks.items() if n != named and not _settled(f, on, rules)}
    met = {n for n, f in others.items() if n not in unable and _joins(f, first, day, on)}
    left = [n for n in sorted(others) if n not in met and in_reach(others[n], on, rules)]
    return Met(met=(named, *sorted(met)), not_met=tuple(left))


def _joins(facts: Facts, first: Facts, day: date, on: date) -> bool:
    """Return whether an appointment on a day for the first meets another one too."""
    if facts.latest < on or facts.earliest <= day <= facts.latest:
        return True
    presses_no_more = URGENCIES.index(facts.urgency) >= URGENCIES.index(first.urgency)
    return first.latest < day and facts.earliest <= day and presses_no_more


def _settled(facts: Facts, on: date, rules: ContactProtocol) -> bool:
    """Return whether something is closed, has an appointment, or waits to be looked through."""
    trail = read_trail(facts, on)
    history = is_history(facts, trail.events, on, rules)
    return bool(trail.closed) or history or open_booking(trail.events) is not None


def letter_does(facts: Facts, on: date, rules: ContactProtocol) -> LetterStep | None:
    """Return the letter step that is due or next, never a later one; None where no letter is.

    Whoever waits for a clinician, an appointment or a check of the address is not invited.
    """
    trail = read_trail(facts, on)
    step = step_after(facts, trail, on, rules)
    if step is None:
        return None
    row = STEP[step.kind]
    if row.is_letter:
        return LetterStep(step.kind, step.round)
    if trail.missed or trail.doubt_on or not (row.lapses or row.is_call):
        return None
    kind = next_letter(facts, trail, rules)
    return LetterStep(kind, trail.round) if kind else None


def letter_counts(
    tracks: Tracks, named: int, on: date, rules: ContactProtocol
) -> dict[int, LetterStep]:
    """Return what a letter about one follow-up does for the others in reach, by number."""
    found: dict[int, LetterStep] = {}
    for number in reached(tracks, named, on, rules)[1:]:
        if does := letter_does(tracks[number], on, rules):
            found[number] = does
    return found
