"""Which key records which outcome of a call, and which outcomes are asked about first.

The ten that come up most have the digits. Every other one has a letter of its own.
"""

from __future__ import annotations

from recall.loop.outcomes import BY_ID, OutcomeId
from tui.commands.kinds import Command

OUTCOME_KEYS: dict[OutcomeId, str] = {
    "no_answer": "1",
    "left_message": "2",
    "somebody_else_answered": "3",
    "identity_not_confirmed": "4",
    "will_call_back": "5",
    "call_again_on": "6",
    "wants_letter": "7",
    "wants_clinician": "8",
    "message_sent": "9",
    "wrong_number": "0",
    "worse": "w",
    "declines": "d",
    "cannot_afford": "f",
    "cannot_travel": "t",
    "seen_elsewhere": "e",
    "too_ill": "i",
    "in_hospital": "h",
    "away": "a",
    "needs_interpreter": "l",
    "moved": "m",
    "do_not_contact": "o",
    "not_safe": "k",
    "died": "x",
}
"""`booked` has no key of its own: making the booking records it."""

SHORT: dict[OutcomeId, str] = {
    "no_answer": "No answer",
    "left_message": "Left a message",
    "somebody_else_answered": "Somebody else",
    "identity_not_confirmed": "Not confirmed who",
    "will_call_back": "Will call back",
    "call_again_on": "Call again on…",
    "wants_letter": "Wants a letter",
    "wants_clinician": "Wants a clinician",
    "message_sent": "Message sent",
    "wrong_number": "Wrong number",
    "worse": "Worse: hand over",
    "declines": "Declines",
    "cannot_afford": "Cannot afford it",
    "cannot_travel": "Cannot travel",
    "seen_elsewhere": "Seen elsewhere",
    "too_ill": "Too ill now",
    "in_hospital": "In hospital",
    "away": "Away",
    "needs_interpreter": "Needs interpreter",
    "moved": "Moved",
    "do_not_contact": "Do not contact",
    "not_safe": "Not safe",
    "died": "Has died",
}
"""Short enough for half a narrow screen."""

ASKED_ABOUT: frozenset[OutcomeId] = frozenset({"died", "do_not_contact", "not_safe"})
"""Outcomes that silence everything: a slip of the finger must not record them."""

OUTCOME_COMMANDS: tuple[Command, ...] = tuple(
    Command(
        f"queue.{outcome}",
        key,
        SHORT[outcome],
        f"{BY_ID[outcome].words}.",
        1 if outcome == "no_answer" else 0,
        f"screen.outcome('{outcome}')",
    )
    for outcome, key in OUTCOME_KEYS.items()
)
