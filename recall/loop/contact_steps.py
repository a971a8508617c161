"""The contact steps: one row each, in the order in which a run may come to them.

Lists, cards, sheets and answers take their words from these rows, and who acts as well. Which
steps are letters, and which lapse, the protocol says: its runs are checked by it.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from recall.loop.facts import StepKind
from recall.protocol.contact import LAPSING_STEPS, LETTER_STEPS

Who = Literal["reception", "clinician", "post"]


class ContactStep(msgspec.Struct, frozen=True, kw_only=True):
    """What is done at one step, by whom, and in which words it is shown."""

    kind: StepKind
    who: Who
    short: str
    """On a line of a list."""
    task: str
    """What whoever has the person in hand does now, with the key for it."""
    does: str = ""
    """What is done, where the reason for the step does not say so."""
    because: str = ""
    """Why a run comes to it, with its `{latest}` day."""
    is_first: bool = False
    """It waits for nothing: before everything else on every list."""
    may_turn: bool = False
    """It may become another step by time or age alone, though nothing happened; or it does not
    say by itself how the follow-up stands."""

    @property
    def is_letter(self) -> bool:
        """Return whether it goes out with the letters."""
        return self.kind in LETTER_STEPS

    @property
    def lapses(self) -> bool:
        """Return whether its moment goes by, done or not."""
        return self.kind in LAPSING_STEPS


def _made(kind: StepKind, who: Who, short: str, task: str, **more: object) -> ContactStep:
    """Return one row of the table."""
    return msgspec.convert(
        {"kind": kind, "who": who, "short": short, "task": task, **more}, ContactStep
    )


_SAVES = "A call may save it."

# fmt: off
CONTACT_STEPS: tuple[ContactStep, ...] = (
    _made("book_now", "reception", "book now", "Book before they leave: b.",
          because="Book before they leave: the last day is {latest}.", may_turn=True),
    _made("list_look", "clinician", "look at list",
          "A clinician looks at this before anything is written.",
          because="A clinician looks at who is about to be written to.", may_turn=True),
    _made("invitation", "post", "invitation",
          f"The invitation goes out with the letters. {_SAVES}",
          because="The invitation goes out."),
    _made("phone", "reception", "ring", "Ring, then press what came of it."),
    _made("reminder", "post", "reminder", f"The reminder goes out with the letters. {_SAVES}",
          because="No answer yet: the reminder goes out."),
    _made("last_letter", "post", "last letter",
          f"The last letter goes out with the letters. {_SAVES}",
          because="No answer yet: the last letter goes out."),
    _made("missed_letter", "post", "missed letter",
          f"The letter about the missed day goes out. {_SAVES}"),
    _made("asked_letter", "post", "letter asked for",
          "The letter that was asked for goes out with the letters.", does="the letter goes out"),
    _made("address_check", "reception", "check address",
          "Check the address and numbers, then press g.", does="check the address and numbers"),
    _made("tell_gp", "reception", "tell the GP", "Tell the GP or referrer, then press g."),
    _made("ask_result", "clinician", "ask for result",
          "Ask for the result of the other visit, then press e again or b."),
    _made("clinician_call", "clinician", "clinician calls",
          "A clinician rings this person today: hand it over.",
          does="a clinician speaks to them", is_first=True),
    _made("safeguarding", "clinician", "safeguarding",
          "A clinician looks at this: the child was not brought.", is_first=True,
          may_turn=True),
    _made("attend", "reception", "appointment", "Booked: they come on the day.", may_turn=True),
    _made("record_attendance", "reception", "did they come?", "Did they come? Press g."),
    _made("decision", "clinician", "decision", "A named clinician decides.",
          does="a named clinician decides", may_turn=True),
)
# fmt: on
STEP: dict[str, ContactStep] = {step.kind: step for step in CONTACT_STEPS}
FIRST_OF_ALL = tuple(step.kind for step in CONTACT_STEPS if step.is_first)
TURNING = frozenset(step.kind for step in CONTACT_STEPS if step.may_turn)
AWAITS_CLINICIAN = tuple(s.kind for s in CONTACT_STEPS if s.who == "clinician" and not s.lapses)
"""Steps at which somebody waits for a clinician's word, whatever day it is."""
