"""What would happen next, step after step, if nobody were heard from."""

from __future__ import annotations

from datetime import date
from typing import cast

from recall.loop.contact_steps import STEP
from recall.loop.facts import (
    AddressChecked,
    Contact,
    Event,
    Facts,
    GpTold,
    LetterKind,
    Looked,
    Posted,
)
from recall.loop.steps import Step, next_step
from recall.protocol.contact import ContactProtocol

_MOST = 20


def outlook(facts: Facts, on: date, rules: ContactProtocol) -> tuple[Step, ...]:
    """Return the steps ahead, each on its day if the ones before are done in time unanswered.

    It ends where somebody must decide or is expected to come: what follows is theirs to say.
    A step that comes again for the same reason ends it too: nothing new would be said.
    """
    ahead: list[Step] = []
    day = on
    while len(ahead) < _MOST and (step := next_step(facts, day, rules)):
        if _said(step, ahead):
            break
        ahead.append(step)
        day = max(day, step.on)
        if step.kind == "book_now":
            day += date.resolution
        elif done := _unanswered(step, day, facts):
            facts = facts.with_events(done)
        else:
            break
    return tuple(ahead)


def _said(step: Step, ahead: list[Step]) -> bool:
    """Return whether a step was said already: on its day, or just before for the same reason."""
    again = bool(ahead) and (step.kind, step.why) == (ahead[-1].kind, ahead[-1].why)
    return again or any((step.kind, step.on) == (past.kind, past.on) for past in ahead)


def _unanswered(step: Step, on: date, facts: Facts) -> Event | None:
    """Return the event of a step that was done and brought no answer; None where it ends here."""
    if STEP[step.kind].is_letter:
        kind = cast(LetterKind, step.kind)  # a letter's step and its kind have one name
        by_post = "letter" in facts.channels
        return Posted(on=on, kind=kind, by="letter" if by_post else "email")
    if step.kind == "phone":
        by_phone = "phone" in facts.channels
        return Contact(on=on, channel="phone" if by_phone else "text", outcome="no_answer")
    made: dict[str, Event] = {
        "list_look": Looked(on=on),
        "address_check": AddressChecked(on=on),
        "tell_gp": GpTold(on=on),
    }
    return made.get(step.kind)
