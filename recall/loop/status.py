"""How a follow-up stands on a day, worked out from facts and never stored as truth."""

from __future__ import annotations

from datetime import date
from typing import Literal

import msgspec

from recall.care.case import URGENCIES, Urgency
from recall.loop.facts import Facts
from recall.loop.outcomes import BY_ID
from recall.loop.steps import Step, step_after
from recall.loop.trail import Trail, read_trail
from recall.protocol.contact import ContactProtocol
from recall.protocol.contact_steps import LOOK_THROUGH

Word = Literal["waiting", "to_contact", "booked", "lost", "closed", "history"]
"""`history`: asked for before the practice went live, and not looked through yet."""


class Status(msgspec.Struct, frozen=True, kw_only=True):
    """One word for a follow-up on a day, how late it is, and what is next."""

    word: Word
    late_by_days: int
    """Days past the latest, booked or not; 0 where it is not overdue."""
    urgency: Urgency
    """As asked, or moved up to urgent while worse symptoms wait for a clinician."""
    step: Step | None
    next_step_on: date | None
    why: str

    @property
    def overdue(self) -> bool:
        """Whether it is open and past its latest day."""
        return self.late_by_days > 0


def status_on(facts: Facts, on: date, rules: ContactProtocol) -> Status:
    """Return how a follow-up stands on a day, from what had happened by then."""
    trail = read_trail(facts, on)
    step = step_after(facts, trail, on, rules)
    if step is None:
        why = f"Closed: {trail.closed.reason.replace('_', ' ')}." if trail.closed else ""
        return Status(
            word="closed",
            late_by_days=0,
            urgency=facts.urgency,
            step=None,
            next_step_on=None,
            why=why,
        )
    return Status(
        word=_word(step, on),
        late_by_days=0 if step.kind == LOOK_THROUGH else max(0, (on - facts.latest).days),
        urgency=_urgency(facts, trail),
        step=step,
        next_step_on=step.on,
        why=step.why,
    )


def _urgency(facts: Facts, trail: Trail) -> Urgency:
    """Return the urgency, moved up where somebody reports worse symptoms."""
    worse = trail.pending is not None and BY_ID[trail.pending.outcome].moves_up
    return min(facts.urgency, "urgent", key=URGENCIES.index) if worse else facts.urgency


def _word(step: Step, on: date) -> Word:
    """Return the word for a step on a day."""
    if step.kind == LOOK_THROUGH:
        return "history"
    if step.kind == "attend":
        return "booked"
    if step.on > on:
        return "waiting"
    return "lost" if step.used_up and not step.missing else "to_contact"
