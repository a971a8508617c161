"""What must be done next about a follow-up, on which day, and why.

The questions below are asked in order and the first that has an answer gives the step, so an
open follow-up always has one. The day of a step may have gone by: then it is late, not gone.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, time, timedelta

import msgspec

from recall.loop.booking_rules import CALLED_OFF_BY_OTHERS, MISSED, NOT_COUNTED, brought_by_others
from recall.loop.changeover import is_history
from recall.loop.facts import BookingEnded, Contact, Facts, Held, Posted
from recall.loop.lost import Missing, still_missing
from recall.loop.outcomes import BY_ID
from recall.loop.rundates import RunStep, is_at_home, next_in_run, run_of, tried_until
from recall.loop.trail import Trail, read_trail
from recall.protocol.contact import ContactProtocol
from recall.protocol.contact_steps import LOOK_THROUGH, RUN_LETTERS, STEP, StepKind
from recall.schedule.calendar import say_day

_DAY = timedelta(days=1)
_WEEK = timedelta(weeks=1)
_CONTACT_STOPPED = {
    "died": "has died: send nothing more, close what is open",
    "objected": "asked not to be contacted",
    "unsafe": "is not safe to contact",
}


class Step(msgspec.Struct, frozen=True, kw_only=True):
    """What must be done next."""

    kind: StepKind
    on: date
    why: str
    at: time | None = None
    """The hour before which it is not done, on the practice's wall clock."""
    promised: bool = False
    """The hour was promised: when it has come, this waits for nothing."""
    round: int = 1
    """Each letter goes out once in a round."""
    told: bool = False
    """What they told us waits for a clinician: reception rings them about nothing that can wait."""
    used_up: bool = False
    """Every contact step is done, and a named clinician's decision is awaited."""
    missing: tuple[Missing, ...] = ()
    """What has not been done before the person may be called lost."""


class _Asked(msgspec.Struct, frozen=True, kw_only=True):
    """What each question may look at."""

    facts: Facts
    trail: Trail
    rules: ContactProtocol
    on: date

    def step(self, kind: StepKind, on: date, why: str) -> Step:
        """Return a step of the present round."""
        return Step(kind=kind, on=on, why=why, round=self.trail.round)


def next_step(facts: Facts, on: date, rules: ContactProtocol) -> Step | None:
    """Return the next step as known on a day; None only where the follow-up is closed."""
    return step_after(facts, read_trail(facts, on), on, rules)


def step_after(facts: Facts, trail: Trail, on: date, rules: ContactProtocol) -> Step | None:
    """Return the next step from what has already been read."""
    if trail.closed:
        return None
    asked = _Asked(facts=facts.usable_on(on), trail=trail, rules=rules, on=on)
    for question in _QUESTIONS if trail.events else _BEFORE_ANYTHING:
        if step := question(asked):
            return step
    return _run(asked)


def _from_before(asked: _Asked) -> Step | None:
    """What history asked for waits until somebody has looked through it, whoever it is about."""
    facts, live = asked.facts, asked.rules.live_from()
    if live is None or not is_history(facts, asked.trail.events, asked.on, asked.rules):
        return None
    when = f"asked for on {say_day(facts.asked_on)}, by {say_day(facts.latest)}"
    return asked.step(
        LOOK_THROUGH, live, f"From before {say_day(live)}: {when}; not looked at yet."
    )


def _died(asked: _Asked) -> Step | None:
    if (stopped := asked.trail.contact_stopped) and stopped[0] == "died":
        off = ", cancel what is booked" if asked.trail.booking else ""
        return asked.step("decision", stopped[1], f"The person {_CONTACT_STOPPED['died']}{off}.")
    return None


def _clinician(asked: _Asked) -> Step | None:
    """A caller with worse symptoms, or who wants a clinician, waits for nothing."""
    pending = asked.trail.pending
    if pending is None or BY_ID[pending.outcome].then != "clinician_call":
        return None
    outcome = BY_ID[pending.outcome]
    why = f"{outcome.words} ({say_day(pending.on)})."
    return _told(asked.step("clinician_call", pending.on, why))


def _not_brought(asked: _Asked) -> Step | None:
    """A child missed again goes before a clinician, whether or not another day is booked."""
    if asked.trail.misses < asked.rules.missed.child:
        return None
    if not brought_by_others(asked.facts, asked.on):
        return None
    why = f"Not brought, or called off, {asked.trail.misses} times in a row. "
    return asked.step("safeguarding", _last_miss(asked.trail), why + asked.rules.words.safeguarding)


def _booking(asked: _Asked) -> Step | None:
    booked = asked.trail.booking
    if booked is None:
        return None
    if booked.day >= asked.on:
        is_late = booked.why_late and booked.day > asked.facts.latest
        late = f", after the latest day: {booked.why_late}" if is_late else ""
        return asked.step("attend", booked.day, f"Booked for {say_day(booked.day)}{late}.")
    why = f"Booked for {say_day(booked.day)}: did they come?"
    return asked.step("record_attendance", booked.day + _DAY, why)


def _contact_stopped(asked: _Asked) -> Step | None:
    if asked.trail.contact_stopped is None:
        return None
    word, since = asked.trail.contact_stopped
    decided = asked.trail.decided_on
    day = since
    if decided is not None and decided >= since:
        day = asked.rules.span(asked.rules.review).after(decided)
    return asked.step("decision", day, f"The person {_CONTACT_STOPPED[word]} ({say_day(since)}).")


def _pending(asked: _Asked) -> Step | None:
    pending = asked.trail.pending
    if pending is None:
        return None
    outcome = BY_ID[pending.outcome]
    day = pending.until or pending.on + asked.facts.pause(outcome.wait)
    kind: StepKind = "ask_result" if outcome.then == "ask_result" else "decision"
    return _told(asked.step(kind, day, f"{outcome.words} ({say_day(pending.on)})."))


def _told(step: Step) -> Step:
    """Return a step that waits for a clinician because of what was told us."""
    return msgspec.structs.replace(step, told=True)


def _visit_untyped(asked: _Asked) -> Step | None:
    """Who came is in the house, or was: nobody rings them until what was seen is known."""
    came, seen = asked.trail.untold, asked.facts.seen_on
    if came is None or (seen is not None and came.on <= seen <= asked.on):
        return None
    day, held = came.on + _DAY, asked.trail.agreed
    if isinstance(held, Held):
        day = max(day, held.until)
    why = f"Came on {say_day(came.on)}, and the visit is not in the register yet."
    return asked.step("type_visit", day, why)


def _missed_often(asked: _Asked) -> Step | None:
    if asked.trail.misses < asked.rules.missed.adult:
        return None
    if brought_by_others(asked.facts, asked.on):
        return None
    why = f"Did not attend {asked.trail.misses} times in a row: a clinician decides."
    return asked.step("decision", _last_miss(asked.trail), why)


def _next_number(asked: _Asked) -> Step | None:
    """A number that does not reach them is not the end: the next one is rung at once."""
    gone = asked.trail.number_gone
    if gone is None or not asked.facts.can_call:
        return None
    # Of a call that a file brought nobody knows which number was rung; there may be only one.
    which = "the next number"
    if gone.recorded_at is None:
        one = asked.facts.one_number
        which = "the one that is recorded, there is no other" if one else "those that are recorded"
    why = f"{BY_ID[gone.outcome].short} ({say_day(gone.on)}): ring {which}."
    return asked.step("phone", gone.on, why)


def _address(asked: _Asked) -> Step | None:
    doubt = asked.trail.doubt_on
    if doubt is None:
        return None
    if _is_promised(asked):
        return None  # the promised call is made first; the check comes after it
    day = doubt + asked.facts.pause(1)
    why = f"Address or number in doubt since {say_day(doubt)}."
    return asked.step("address_check", day, why)


AFTERNOON = time(14)
"""From this hour on what nobody answered in the morning is rung once more. Common practice, no
published source."""


def _again(asked: _Asked) -> Step | None:
    """Nobody answered in the morning: rung once more that afternoon, and then as the run says.

    Where nobody rings that afternoon the chance has gone by, so that no letter waits for it.
    """
    again = asked.trail.again
    if again is None or again.until is None or not asked.facts.can_call:
        return None
    if again.until < asked.on:
        return None
    said = BY_ID[again.outcome].short
    if again.until_at is not None and again.until_at != AFTERNOON:
        why = f"{said}: ring once more at {again.until_at:%H:%M}, as promised."
        return _at(asked.step("phone", again.until, why), again.until_at, promised=True)
    why = f"{said} this morning: ring once more in the afternoon."
    return _at(asked.step("phone", again.until, why), again.until_at)


def _is_promised(asked: _Asked) -> bool:
    """Return whether they were told on which day they are rung again, with an hour or without."""
    agreed = asked.trail.agreed
    if not isinstance(agreed, Contact) or agreed.until is None or not asked.facts.can_call:
        return False
    outcome = BY_ID[agreed.outcome]
    return outcome.then == "call" and outcome.asks_time


def _at(step: Step, hour: time | None, *, promised: bool = False) -> Step:
    """Return a step with the hour from which it is done."""
    return msgspec.structs.replace(step, at=hour, promised=promised and hour is not None)


def _put_off(asked: _Asked) -> Step | None:
    """What presses is not put off past its last day without a clinician knowing."""
    agreed, decided = asked.trail.agreed, asked.trail.decided_on
    if agreed is None or not asked.facts.presses or (decided and decided >= agreed.on):
        return None
    if agreed.until is None or agreed.until <= asked.facts.latest:
        return None
    why = f"{asked.facts.urgency.capitalize()}, and put off until {say_day(agreed.until)}, "
    return asked.step("decision", agreed.on, why + "after the last day: a clinician decides.")


def _agreed(asked: _Asked) -> Step | None:
    """What was agreed with the person holds, before anything the run would do."""
    agreed = asked.trail.agreed
    if not isinstance(agreed, Contact):
        return None
    outcome = BY_ID[agreed.outcome]
    letter = outcome.then == "letter"
    if not (asked.facts.can_write if letter else asked.facts.can_call):
        return None
    day = agreed.until or agreed.on + asked.facts.pause(outcome.wait)
    kind: StepKind = "asked_letter" if letter else "phone"
    if letter or agreed.until_at is None:
        return asked.step(kind, day, f"{outcome.words} ({say_day(agreed.on)}).")
    at = (
        f"{agreed.until_at:%H:%M}"
        if day == asked.on
        else f"{say_day(day)}, {agreed.until_at:%H:%M}"
    )
    why = (
        f"Promised for {at}: {outcome.words[0].lower()}{outcome.words[1:]} ({say_day(agreed.on)})."
    )
    return _at(asked.step(kind, day, why), agreed.until_at, promised=True)


def _after_miss(asked: _Asked) -> Step | None:
    """After an appointment that was not kept: one call, then one letter, then the run goes on."""
    missed, since = asked.trail.missed, asked.trail.since_missed
    if missed is None:
        return None
    rules, facts = asked.rules, asked.facts
    why = f"{missed.how.replace('_', ' ').capitalize()} on {say_day(missed.on)}: offer another day."
    called = any(isinstance(event, Contact) for event in since)
    if facts.can_call and not called:
        at_once = missed.how in NOT_COUNTED or facts.presses
        day = missed.on if at_once else rules.span(rules.missed.call).after(missed.on)
        held = asked.trail.agreed
        if isinstance(held, Held):
            day = max(day, held.until)  # whoever is away is not rung about what they missed
        return asked.step("phone", day, why)
    written = any(not isinstance(event, Contact) for event in since)
    if missed.how in MISSED and facts.can_write and not written:
        day = rules.span(rules.missed.letter).after(missed.on)
        day = max(day, tried_until(facts, asked.trail, None))
        return asked.step("missed_letter", day, why)
    return None


def _run(asked: _Asked) -> Step:
    found = next_in_run(asked.facts, asked.trail, asked.rules, asked.on)
    if STEP[found.kind].ends_run:
        return _end(asked, found)
    return asked.step(found.kind, found.on, _why(asked, found))


def _why(asked: _Asked, found: RunStep) -> str:
    """Say why a step of the run is next."""
    if STEP[found.kind].is_call:
        first = found.try_no == 1
        return "Ring and offer a day." if first else f"Ring again, call {found.try_no}."
    if STEP[found.kind].about_address:
        return "No safe way is recorded for the next step: look for one."
    last = say_day(asked.facts.latest)
    in_time = asked.on <= asked.facts.latest
    by = f"the last day is {last}" if in_time else f"late since {last}, as soon as can be"
    step = STEP[found.kind]
    words = step.at_home if is_at_home(found.kind, asked.facts, asked.trail) else step.because
    return words.format(by=by)


def _end(asked: _Asked, found: RunStep) -> Step:
    """What is missing before anybody may be called lost comes first, unless it presses.

    Where no way is left by which it could be done, a clinician decides with it still missing.
    """
    gaps = still_missing(asked.facts, asked.trail, asked.rules)
    kinds: dict[str, StepKind] = {"address_check": "address_check", "gp_told": "tell_gp"}
    kind = (kinds.get(gaps[0].what) or _other_way(asked)) if gaps else None
    if kind is None or asked.facts.presses:
        steps = len(run_of(asked.facts, asked.trail, asked.rules).steps) - 1
        rest = "".join(f" Not done: {gap.words}." for gap in gaps)
        why = f"All {steps} contact steps are used up: a named clinician decides.{rest}"
        step = asked.step("decision", found.on, why)
        return msgspec.structs.replace(step, used_up=True, missing=gaps)
    day = max(asked.facts.latest, tried_until(asked.facts, asked.trail, None))
    if kind == "tell_gp":
        day = max(day, _quiet_from(asked))
    return asked.step(kind, day, f"Before anybody may be called lost: {gaps[0].words}.")


def _quiet_from(asked: _Asked) -> date:
    """Return from when word to the GP is not too soon: a week after the last letter, and never
    on a day on which anything else was done. Common practice, no published source.
    """
    done = [e.on for e in asked.trail.events if not isinstance(e, Held)]
    letters = [e.on for e in asked.trail.events if isinstance(e, Posted)]
    return max([*(on + _DAY for on in done), *(on + _WEEK for on in letters)], default=date.min)


def _other_way(asked: _Asked) -> StepKind | None:
    """Return the step for a way that has not been tried, or for looking for one.

    None where everything was tried by every way there is, and no other was found.
    """
    facts, tried = asked.facts, {channel for channel, _ in asked.trail.attempts}
    called, written = tried & facts.call_channels, tried & {"letter", "email"}
    if facts.can_call and not called:
        return "phone"
    if facts.can_write and not written:
        return _unsent(asked.trail)
    if asked.trail.address_checked_on is None:
        return "address_check"
    if facts.can_call:
        return "phone"
    return _unsent(asked.trail) if facts.can_write else None


def _unsent(trail: Trail) -> StepKind | None:
    """Return the last of the letters that has not gone out in this round, if there is one."""
    sent = {letter.kind for letter in trail.letters}
    return next((kind for kind in reversed(RUN_LETTERS) if kind not in sent), None)


def _last_miss(trail: Trail) -> date:
    """Return the day of the last appointment that counts as missed."""
    counted = MISSED | CALLED_OFF_BY_OTHERS
    ended = [e.on for e in trail.events if isinstance(e, BookingEnded) and e.how in counted]
    return ended[-1]


_QUESTIONS: tuple[Callable[[_Asked], Step | None], ...] = (
    _from_before,
    _died,
    _clinician,
    _not_brought,
    _booking,
    _contact_stopped,
    _pending,
    _visit_untyped,
    _missed_often,
    _next_number,
    _address,
    _again,
    _put_off,
    _agreed,
    _after_miss,
)
_BEFORE_ANYTHING = (_from_before, _died, _contact_stopped, _address)
"""The questions that can have an answer where nothing has happened yet."""
