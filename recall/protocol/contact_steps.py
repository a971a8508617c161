"""The contact steps: one row each, in the order in which a run may come to them.

A row is all that is known of a step: who acts, its words, whether it is a letter and by which
wording, whether its moment goes by, what records it as done. Lists, cards, sheets, letters and
the loop take what they need from here; only `loop/` says when a step that is in no run comes.
"""

from __future__ import annotations

from typing import Literal

import msgspec

StepKind = str
"""The name of a step: one of `STEP`."""
Who = Literal["reception", "clinician", "post"]
DoneAs = Literal[
    "booked", "looked", "posted", "contact", "address_checked", "gp_told", "attendance", "visit"
]
"""What records a step as done: an appointment, a look at the list, a letter that left, a call,
a check of the address, word to the GP, whether they came, the visit that they came to."""
WordedAs = Literal["invite", "reminder", "last_letter", "missed", "moved_check"]
"""The family of wordings by which a letter about a step is written."""


class ContactStep(msgspec.Struct, frozen=True, kw_only=True):
    """What is done at one step, by whom, and in which words it is shown."""

    kind: StepKind
    who: Who
    short: str
    """On a line of a list."""
    task: str
    """What whoever has the person in hand does now, with the key for it; empty where the reason
    for the step says it."""
    does: str = ""
    """What is done, where the reason for the step does not say so."""
    because: str = ""
    """Why a run comes to it, with its day, as `{by}`."""
    at_home: str = ""
    """The same of whoever was not at the practice on the day it was asked; empty: no other."""
    done_as: DoneAs | None = None
    """None where somebody's decision or another act than its own ends it."""
    letter: WordedAs | None = None
    """The wording of a letter about it; of a step that is no letter, where one may help."""
    in_run: bool = False
    """A run of contact.toml may hold it; any other comes about by what happens."""
    ends_run: bool = False
    """It is the last step of every run."""
    lapses: bool = False
    """Its moment goes by: the next one is taken, whether it was done or not."""
    about_address: bool = False
    """The address or the number is in doubt: a letter only asks about that."""
    is_first: bool = False
    """It waits for nothing: before everything else on every list."""
    is_told: bool = False
    """It comes about by what the person told us, and by nothing else."""
    may_turn: bool = False
    """It may become another step by time or age alone, though nothing happened; or it does not
    say by itself how the follow-up stands."""

    @property
    def is_letter(self) -> bool:
        """Return whether it goes out with the letters."""
        return self.who == "post"

    @property
    def is_call(self) -> bool:
        """Return whether it is done by ringing."""
        return self.done_as == "contact"


def _made(kind: StepKind, who: Who, short: str, task: str, **more: object) -> ContactStep:
    """Return one row of the table."""
    return msgspec.convert(
        {"kind": kind, "who": who, "short": short, "task": task, **more}, ContactStep
    )


_SAVES = "A call may save it."

# fmt: off
CONTACT_STEPS: tuple[ContactStep, ...] = (
    _made("look_through", "clinician", "look through",
          "History from before this register: a clinician looks through it.",
          does="a clinician looks through the history"),
    _made("book_now", "reception", "book now", "Book before they leave: b.",
          because="Book before they leave: {by}.", at_home="Ring and offer a day: {by}.",
          done_as="booked",
          in_run=True, lapses=True, may_turn=True),
    _made("list_look", "clinician", "look at list",
          "A clinician looks at this before anything is written.",
          because="A clinician looks at who is about to be written to.", done_as="looked",
          in_run=True, lapses=True, may_turn=True),
    _made("invitation", "post", "invitation",
          f"The invitation goes out with the letters. {_SAVES}",
          because="The invitation goes out.", done_as="posted", letter="invite", in_run=True),
    _made("phone", "reception", "ring", "Ring, then press what came of it.", done_as="contact",
          in_run=True),
    _made("reminder", "post", "reminder", f"The reminder goes out with the letters. {_SAVES}",
          because="No answer yet: the reminder goes out.", done_as="posted", letter="reminder",
          in_run=True),
    _made("last_letter", "post", "last letter",
          f"The last letter goes out with the letters. {_SAVES}",
          because="No answer yet: the last letter goes out.", done_as="posted",
          letter="last_letter", in_run=True),
    _made("missed_letter", "post", "missed letter",
          f"The letter about the missed day goes out. {_SAVES}", done_as="posted",
          letter="missed"),
    _made("asked_letter", "post", "letter asked for",
          "The letter that was asked for goes out with the letters.", does="the letter goes out",
          done_as="posted", letter="invite"),
    _made("address_check", "reception", "check address",
          "Check the address and numbers, then press g.", does="check the address and numbers",
          done_as="address_checked", letter="moved_check", about_address=True),
    _made("tell_gp", "reception", "tell the GP", "Tell the GP or referrer, then press g.",
          done_as="gp_told"),
    _made("ask_result", "clinician", "ask for result",
          "Ask for the result of the other visit, then press e again or b.", is_told=True),
    _made("clinician_call", "clinician", "clinician calls",
          "A clinician rings this person today: hand it over.",
          does="a clinician speaks to them", is_first=True, is_told=True),
    _made("safeguarding", "clinician", "safeguarding",
          "A clinician looks at this: the child was not brought.", is_first=True,
          may_turn=True),
    _made("attend", "reception", "appointment", "", may_turn=True),
    _made("record_attendance", "reception", "did they come?", "Did they come? Press g.",
          done_as="attendance"),
    _made("type_visit", "reception", "type the visit",
          "They came, and nobody is to be rung: type their visit in, Enter and then v.",
          does="type the visit in", done_as="visit"),
    _made("decision", "clinician", "decision", "A named clinician decides.",
          does="a named clinician decides", in_run=True, ends_run=True, may_turn=True),
)
# fmt: on
STEP: dict[str, ContactStep] = {step.kind: step for step in CONTACT_STEPS}
LETTER_STEPS: tuple[str, ...] = tuple(s.kind for s in CONTACT_STEPS if s.is_letter)
CALL_STEPS: tuple[str, ...] = tuple(s.kind for s in CONTACT_STEPS if s.is_call)
RUN_LETTERS: tuple[str, ...] = tuple(s.kind for s in CONTACT_STEPS if s.is_letter and s.in_run)
"""The letters of a run, mildest first."""
FIRST_OF_ALL = tuple(step.kind for step in CONTACT_STEPS if step.is_first)
TOLD = tuple(step.kind for step in CONTACT_STEPS if step.is_told)
"""Steps at which what the person told us waits for a clinician; a decision may be another."""
TURNING = frozenset(step.kind for step in CONTACT_STEPS if step.may_turn)
ATTEND = "attend"
"""The step of what is booked: they come."""
TYPE_VISIT = "type_visit"
"""The step of whoever came and whose visit is not in the register: nobody is rung about it."""
LOOK_THROUGH = "look_through"
"""The step of what history asked for before the practice went live: on no list of a day's work."""
AWAITS_CLINICIAN = tuple(
    s.kind
    for s in CONTACT_STEPS
    if s.who == "clinician" and not s.lapses and s.kind != LOOK_THROUGH
)
"""Steps at which somebody waits for a clinician's word, whatever day it is."""
