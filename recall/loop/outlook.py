"""What would happen next, step after step, if nobody were heard from."""

from __future__ import annotations

from datetime import date

import msgspec

from recall.loop.facts import (
    AddressChecked,
    Contact,
    Event,
    Facts,
    GpTold,
    Looked,
    Posted,
)
from recall.loop.steps import Step, next_step
from recall.protocol.contact import ContactProtocol
from recall.protocol.contact_steps import STEP

_MOST = 20


def outlook(facts: Facts, on: date, rules: ContactProtocol) -> tuple[Step, ...]:
    """Return the steps ahead, each on its day if the ones before are done in time unanswered.

    It ends where somebody must decide or is expected to come: what follows is theirs to say.
    A step that comes again for the same reason ends it too: nothing new would be said.
    """
    ahead: list[Step] = []
    day = on
    while len(ahead) < _MOST and (step := _next(facts, day, rules)):
        if _said(step, ahead):
            break
        day = max(day, step.on)
        # what is late is done first: no step comes before the one that it waits for
        ahead.append(msgspec.structs.replace(step, on=day) if ahead else step)
        if STEP[step.kind].done_as == "booked":
            day += date.resolution
        elif done := _unanswered(step, day, facts.usable_on(day)):
            facts = facts.with_events(done)
        else:
            break
    return tuple(ahead)


def _next(facts: Facts, on: date, rules: ContactProtocol) -> Step | None:
    """Return the next step, by the ways there will be on its day."""
    step = next_step(facts, on, rules)
    if step is not None and step.on > on and facts.ways_on(step.on) != facts.ways_on(on):
        return next_step(facts, step.on, rules)
    return step


def _said(step: Step, ahead: list[Step]) -> bool:
    """Return whether a step was said already: on its day, or just before for the same reason."""
    again = bool(ahead) and (step.kind, step.why) == (ahead[-1].kind, ahead[-1].why)
    return again or any((step.kind, step.on) == (past.kind, past.on) for past in ahead)


def _unanswered(step: Step, on: date, facts: Facts) -> Event | None:
    """Return the event of a step that was done and brought no answer; None where it ends here."""
    done_as = STEP[step.kind].done_as
    if done_as == "posted":
        by_post = "letter" in facts.channels
        return Posted(on=on, kind=step.kind, by="letter" if by_post else "email")
    if done_as == "contact":
        by_phone = "phone" in facts.channels
        return Contact(on=on, channel="phone" if by_phone else "text", outcome="no_answer")
    made: dict[str | None, Event] = {
        "looked": Looked(on=on),
        "address_checked": AddressChecked(on=on),
        "gp_told": GpTold(on=on),
    }
    return made.get(done_as)
