"""The next undone step of a contact run, and its day."""

from __future__ import annotations

from datetime import date, timedelta

import msgspec

from recall.loop.facts import Contact, Facts, Held
from recall.loop.outcomes import BY_ID
from recall.loop.trail import Trail
from recall.protocol.contact import ContactProtocol, Run, StepRule
from recall.protocol.contact_steps import STEP, StepKind


class RunStep(msgspec.Struct, frozen=True):
    """A step of a run that is not done, with its day."""

    kind: StepKind
    on: date
    try_no: int = 1
    """Which call of the step this is."""


def run_of(facts: Facts, trail: Trail, rules: ContactProtocol) -> Run:
    """Return the run that this follow-up is on."""
    again = trail.round_on is not None
    return rules.run_for(facts.urgency, again, facts.asked_on, facts.latest)


def next_in_run(facts: Facts, trail: Trail, rules: ContactProtocol, on: date) -> RunStep:
    """Return the first step of the run that is not done; the last one is never done."""
    steps = run_of(facts, trail, rules).steps
    calls = [c for c in trail.tries if _uses_up(c, facts)]
    for n, step in enumerate(steps):
        if STEP[step.kind].lapses:
            if _gone_by(step, steps[n + 1], facts, trail, on):
                continue
        elif STEP[step.kind].is_call:
            _leave_out_early(calls, step, facts, trail)
            done, used = _called(step, calls)
            if not done and (found := _if_possible(step, facts.can_call, facts, trail, used + 1)):
                return found
            continue
        elif STEP[step.kind].is_letter:
            if _written(step, steps[n:], trail):
                continue
            if found := _if_possible(step, facts.can_write, facts, trail, 1):
                return found
            continue
        return RunStep(step.kind, step_day(step, facts, trail))
    raise AssertionError("a run ends in its decision")


def first_day(facts: Facts, rules: ContactProtocol) -> date:
    """Return the day on which the first step of the first round comes, whatever happened since."""
    nothing = Trail()
    return step_day(run_of(facts, nothing, rules).steps[0], facts, nothing)


def next_letter(facts: Facts, trail: Trail, rules: ContactProtocol) -> StepKind | None:
    """Return the first letter of the run that has not gone out, whatever comes before it."""
    steps = run_of(facts, trail, rules).steps
    for n, step in enumerate(steps):
        if STEP[step.kind].is_letter and not _written(step, steps[n:], trail):
            return step.kind
    return None


def step_day(step: StepRule, facts: Facts, trail: Trail) -> date:
    """Return the day of a step: its own, or as soon as what was just tried has had time."""
    planned = max(_planned(step, facts, trail), facts.asked_on)
    return max(planned, tried_until(facts, trail, step))


def tried_until(facts: Facts, trail: Trail, step: StepRule | None) -> date:
    """Return until when the last attempt, hold or decision is left to work."""
    floor = max(d for d in (facts.asked_on, trail.decided_on, trail.attended_on) if d)
    contacts = [event for event in trail.events if isinstance(event, Contact)]
    if contacts:
        floor = max(floor, contacts[-1].on + _pause(contacts[-1], facts))
    if trail.letters:
        posted = trail.letters[-1].on
        floor = max(floor, step.waited(posted) if step else posted)
    if isinstance(trail.agreed, Held):
        floor = max(floor, trail.agreed.until)
    return floor


def _pause(contact: Contact, facts: Facts) -> timedelta:
    """Return the time that a contact's outcome leaves before anything else."""
    outcome = BY_ID[contact.outcome]
    return facts.pause(outcome.wait if outcome.then in ("go_on", "try_again") else 0)


def _planned(step: StepRule, facts: Facts, trail: Trail) -> date:
    """Return the day the protocol gives a step."""
    day = step.day(_anchor(step, facts, trail))
    return day if STEP[step.kind].lapses else max(day, step.floor(facts.asked_on))


def _anchor(step: StepRule, facts: Facts, trail: Trail) -> date:
    """Return the day that a step's day is counted from."""
    match step.anchor:
        case "visit":
            return facts.asked_on
        case "earliest":
            return facts.earliest
        case "target":
            return facts.target
        case "halfway":
            return facts.target + (facts.latest - facts.target) // 2
        case "latest":
            return facts.latest
        case "round":
            return trail.round_on or facts.asked_on


def _gone_by(step: StepRule, after: StepRule, facts: Facts, trail: Trail, on: date) -> bool:
    """Return whether the moment of a lapsing step is over, or was never."""
    if STEP[step.kind].done_as == "booked":
        return on > (trail.attended_on or facts.asked_on) or bool(trail.tries)
    if trail.looked_on is not None and trail.looked_on >= facts.asked_on:
        return True
    if trail.letters:
        return True  # who was written to needs no look at whom to write to
    day = _planned(step, facts, trail)
    return day < step.floor(facts.asked_on) or on >= step_day(after, facts, trail)


def is_at_home(kind: StepKind, facts: Facts, trail: Trail) -> bool:
    """Return whether a step is worded for whoever was at the practice, and they were not.

    What a decision, an answer or new rules ask is asked on a day without a visit.
    """
    if not STEP[kind].at_home or trail.attended_on is not None:
        return False
    return facts.seen_on is not None and facts.seen_on < facts.asked_on


def _uses_up(contact: Contact, facts: Facts) -> bool:
    """Return whether a contact is one of a phone step's calls."""
    outcome = BY_ID[contact.outcome]
    spoken = contact.channel in facts.call_channels
    return spoken and outcome.counts and outcome.then in ("go_on", "try_again")


def _leave_out_early(calls: list[Contact], step: StepRule, facts: Facts, trail: Trail) -> None:
    """Leave out calls that were made for something else, long before this step's own time."""
    if not calls:
        return
    first = min(_planned(step, facts, trail), trail.counts_from)
    while calls and calls[0].on < first:
        calls.pop(0)


def _called(step: StepRule, calls: list[Contact]) -> tuple[bool, int]:
    """Take this step's calls off the list; return whether it is done, and how many it took."""
    used = 0
    while calls and used < step.tries:
        used += 1
        if BY_ID[calls.pop(0).outcome].then == "go_on":
            return True, used
    return used == step.tries, used


def _written(step: StepRule, rest: tuple[StepRule, ...], trail: Trail) -> bool:
    """Return whether this letter, or one that the run holds for later, has gone out."""
    later = {s.kind for s in rest if STEP[s.kind].is_letter}
    return any(letter.kind in later for letter in trail.letters)


def _if_possible(
    step: StepRule, possible: bool, facts: Facts, trail: Trail, try_no: int
) -> RunStep | None:
    """Return the step, or the search for a way to do it, or nothing where there is none."""
    day = step_day(step, facts, trail)
    if possible:
        return RunStep(step.kind, day, try_no)
    if trail.address_checked_on is None:
        return RunStep("address_check", day)
    return None
