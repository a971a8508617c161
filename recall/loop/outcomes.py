"""What can come of trying to reach somebody: one row each, in the order of their keys.

The call list, the commands, the files and the manual are made from these rows. The ten that
come up most have the digits; every other one has a letter of its own.

`counts` says whether the attempt counts before a person may be called lost: a wrong number
reached nobody. `then` says what follows; `wait` how many days to leave before it. Waits are
common practice, no published source.
"""

from __future__ import annotations

from typing import Literal, get_args

import msgspec

Channel = Literal["phone", "letter", "text", "email", "in_person"]
CALLS: frozenset[Channel] = frozenset({"phone", "in_person"})
"""Channels on which somebody can answer at once."""
DIALLED: frozenset[Channel] = frozenset({"phone", "text"})
"""Channels for which a number is needed."""
OutcomeId = Literal[
    "no_answer",
    "left_message",
    "somebody_else_answered",
    "identity_not_confirmed",
    "message_sent",
    "will_call_back",
    "call_again_on",
    "booked",
    "wants_letter",
    "wants_clinician",
    "worse",
    "declines",
    "cannot_afford",
    "cannot_travel",
    "seen_elsewhere",
    "too_ill",
    "in_hospital",
    "away",
    "needs_interpreter",
    "wrong_number",
    "not_here",
    "moved",
    "died",
    "do_not_contact",
    "not_safe",
]
Done = Literal["address_checked", "gp_told"]
"""What else was done about somebody who did not answer; no attempt to reach them."""
DONE: tuple[str, ...] = get_args(Done)
Then = Literal[
    "go_on",
    "try_again",
    "call",
    "booking",
    "letter",
    "clinician_call",
    "decision",
    "ask_result",
    "next_number",
    "address_check",
]
"""`go_on`: the run's next step; `try_again`: the same step; `call`: ring on the day agreed;
`next_number`: ring the person's next number now, or check the address where there is none."""
ContactStop = Literal["died", "objected", "unsafe"]
"""Why nobody may be written to or rung until somebody who may decide has decided."""


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that can come of a contact."""

    id: OutcomeId
    key: str
    """The key that records it; none where making the booking does."""
    short: str
    """Its words where there is little room: half a narrow screen."""
    words: str
    then: Then
    counts: bool = True
    reached: bool = False
    """Somebody who may speak for the person was spoken to."""
    wait: int = 0
    """Days before what follows."""
    asks_day: bool = False
    """The day agreed is asked for, with its hour; where none is given, the wait holds."""
    asks_time: bool = False
    """When they are best rung is asked for, and kept beside the number."""
    comes_back: bool = False
    """In the morning of an open day it is rung once more that afternoon."""
    stops_contact: ContactStop | None = None
    moves_up: bool = False
    closes_as: str = ""
    """How a named clinician would close it, where this is the usual end."""
    matter: str = ""
    """The kind of matter that it makes for somebody to see to."""
    letter: str = ""
    """The letter that usually goes with it."""
    ask: str = ""
    """What to ask or say before ringing off."""
    asks_first: bool = False
    """It is asked before they go: nothing is recorded until it was."""
    only_ours: bool = False
    """Of attempts of ours: nobody who reaches us can have it."""
    about: Literal["attempt", "person", "one"] = "attempt"
    """Of everything that is open for the person, or of the one thing that it ends."""
    ends: Literal["", "number", "their_number", "address"] = ""
    """What was used and does not reach them: a number for everybody who has it, for this person
    alone, or the address."""

    @property
    def ends_number(self) -> bool:
        """Return whether the number that was rung does not reach them."""
        return self.ends in ("number", "their_number")

    @property
    def doubts_address(self) -> bool:
        """Whether the address on record may be theirs no longer: no letter until it is checked."""
        return self.ends in ("their_number", "address")

    @property
    def needs_no_number(self) -> bool:
        """Return whether it is taken down though nobody can have been rung: they reached us.

        What is told about a person, and that they are worse, is told at the counter too.
        """
        return not self.only_ours and (self.moves_up or self.about != "attempt")

    @property
    def is_grave(self) -> bool:
        """Return whether a slip of the finger must not record it: it stops all contact."""
        return self.stops_contact is not None


def _made(id: OutcomeId, key: str, short: str, words: str, then: Then, **more: object) -> Outcome:
    """Return one row of the table."""
    named = {"id": id, "key": key, "short": short, "words": words, "then": then}
    return msgspec.convert({**named, **more}, Outcome)


# fmt: off
OUTCOMES: tuple[Outcome, ...] = (
    _made("booked", "", "Booked", "Booked", "booking", reached=True),
    _made("no_answer", "1", "No answer", "No answer", "try_again", wait=2,
          ask="Ring at another time of day.", only_ours=True, comes_back=True),
    _made("left_message", "2", "Left a message", "Left a message: name and number only", "go_on",
          wait=5, ask="Nothing about ears, hearing or the reason.", only_ours=True),
    _made("somebody_else_answered", "3", "Somebody else", "Somebody else answered: nothing said",
          "try_again", wait=2, ask="When is a good time to ring?", asks_first=True,
          asks_time=True, only_ours=True),
    _made("identity_not_confirmed", "4", "Not confirmed who",
          "Could not confirm who it was: nothing said", "try_again", wait=2),
    _made("will_call_back", "5", "Will call back", "Spoke: will call back", "call", reached=True,
          wait=7),
    _made("call_again_on", "6", "Call again on…", "Spoke: call again on a day", "call",
          reached=True, wait=7, asks_day=True, asks_time=True),
    _made("wants_letter", "7", "Wants a letter", "Would like a letter first", "letter",
          reached=True, wait=1),
    _made("wants_clinician", "8", "Wants a clinician", "Would like to speak to a clinician",
          "clinician_call", reached=True, ask="What about, and when are they best rung back?",
          asks_first=True),
    _made("message_sent", "9", "Message sent", "Message sent, no answer yet", "go_on", wait=5,
          only_ours=True),
    _made("wrong_number", "0", "Wrong number", "Wrong number: nobody there knows them",
          "next_number", counts=False, only_ours=True, about="person", ends="number",
          ask="Is it the number that was dialled? Nobody rings it again.", asks_first=True),
    _made("not_here", "z", "Not here any more", "Not here any more: the number is right for others",
          "address_check", counts=False, wait=1, only_ours=True, about="person",
          ends="their_number", asks_first=True,
          ask="Ask where they are now, and on which number."),
    _made("worse", "w", "Worse: hand over", "Reports worse symptoms: hand over now",
          "clinician_call", reached=True, moves_up=True,
          ask="Do not ring off: hand the call to a clinician."),
    _made("declines", "d", "Declines", "Declines, knowing what it is for", "decision",
          reached=True, closes_as="informed_decline",
          ask="Tell them what to watch for and that they may change their mind.", asks_first=True,
          about="one"),
    _made("cannot_afford", "f", "Cannot afford it", "Cannot afford it: public route offered",
          "decision", reached=True, closes_as="handed_back", letter="hand_back_to_gp",
          ask="Offer the public route: may we write to the GP?", asks_first=True, about="one"),
    _made("cannot_travel", "t", "Cannot travel", "Cannot come: needs transport or a visit at home",
          "decision", reached=True, closes_as="handed_back", letter="hand_back_to_gp",
          ask="May we arrange it, or write to the GP?", asks_first=True, about="one"),
    _made("seen_elsewhere", "e", "Seen elsewhere", "Seen elsewhere: ask for the result",
          "ask_result", reached=True, wait=14, ask="Where, when, and may we ask for the result?",
          asks_first=True, about="one"),
    _made("too_ill", "i", "Too ill now", "Too ill at present", "call", reached=True, wait=28,
          asks_day=True, about="person"),
    _made("in_hospital", "h", "In hospital", "In hospital", "call", wait=28, asks_day=True,
          about="person"),
    _made("away", "a", "Away", "Away at present", "call", wait=28, asks_day=True, about="person"),
    _made("needs_interpreter", "l", "Needs interpreter", "Needs an interpreter or a relay call",
          "try_again", counts=False, wait=3, matter="interpreter",
          ask="Which language or kind of call? Record it for every contact.", asks_first=True,
          about="person"),
    _made("moved", "m", "Moved", "Moved: address not known", "address_check", counts=False, wait=1,
          ask="Who says so? Nothing goes to that address until it is checked.", asks_first=True,
          about="person", ends="address"),
    _made("do_not_contact", "o", "Do not contact", "Asked not to be contacted", "decision",
          reached=True, stops_contact="objected", closes_as="informed_decline", about="person"),
    _made("not_safe", "k", "Not safe", "Not safe to contact this way", "decision", counts=False,
          stops_contact="unsafe", ask="End the call politely and say nothing about why you rang.",
          about="person"),
    _made("died", "x", "Has died", "Has died", "decision", counts=False, stops_contact="died",
          closes_as="died", ask="Say that you are sorry. Stop every letter.", about="person"),
)
# fmt: on
BY_ID: dict[OutcomeId, Outcome] = {outcome.id: outcome for outcome in OUTCOMES}
COMES_BACK: frozenset[str] = frozenset(outcome.id for outcome in OUTCOMES if outcome.comes_back)
