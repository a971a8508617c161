"""The tables of states: what may have become of a re-check and of a referral, one row each.

Every ask is in exactly one of them on a day. Whether its latest day went by before it was met or
ended stands beside the state, for every state, so that a miss stays a miss whatever is done to
it afterwards.
"""

from __future__ import annotations

from typing import Literal, get_args

import msgspec

from recall.schedule.plan import CloseReason, EndReason

Part = Literal["open", "met", "ended", "replaced", "not_counted"]
PARTS: tuple[Part, ...] = get_args(Part)
PART_WORDS: dict[Part, str] = {
    "open": "still open",
    "met": "met",
    "ended": "ended otherwise, by name",
    "replaced": "another ask stands in its place",
    "not_counted": "never to be met",
}
RecheckState = Literal[
    "not_yet_due",
    "in_window",
    "booked",
    "late",
    "late_booked",
    "lost",
    "look_through",
    "met_in_time",
    "met_late",
    "elsewhere",
    "declined",
    "died",
    "transferred",
    "handed_back",
    "decided",
    "struck_out",
    "error_late",
    "moved_later",
    "moved_late",
    "replaced",
    "replaced_late",
    "entered_in_error",
]
ReferralState = Literal[
    "not_sent",
    "not_sent_late",
    "sent",
    "sent_late",
    "accepted",
    "accepted_late",
    "seen",
    "seen_late",
    "stopped",
    "look_through",
    "result_in_time",
    "result_late",
    "taken_up",
    "groundless",
    "declined",
    "died",
    "transferred",
    "handed_back",
    "decided",
    "struck_out",
    "error_late",
    "replaced",
    "replaced_late",
    "entered_in_error",
]


class State(msgspec.Struct, frozen=True):
    """One thing that may have become of an ask."""

    id: str
    part: Part
    words: str


RECHECK_STATES: tuple[State, ...] = (
    State("not_yet_due", "open", "not yet due"),
    State("in_window", "open", "in its window, not booked"),
    State("booked", "open", "in its window, booked"),
    State("late", "open", "late, not booked"),
    State("late_booked", "open", "late, booked"),
    State("lost", "open", "lost: everything was tried"),
    State("look_through", "open", "history to be looked through"),
    State("met_in_time", "met", "looked at in time"),
    State("met_late", "met", "looked at late"),
    State("elsewhere", "met", "looked at elsewhere"),
    State("declined", "ended", "declined"),
    State("died", "ended", "died"),
    State("transferred", "ended", "cared for elsewhere or moved away"),
    State("handed_back", "ended", "handed back to the GP"),
    State("decided", "ended", "a clinician's decision"),
    State("struck_out", "ended", "struck out"),
    State("error_late", "ended", "entered in error, after a miss"),
    State("moved_later", "replaced", "moved to later, before its latest day"),
    State("moved_late", "replaced", "moved after its latest day"),
    State("replaced", "replaced", "superseded before it was due"),
    State("replaced_late", "replaced", "superseded after a miss"),
    State("entered_in_error", "not_counted", "entered in error"),
)
REFERRAL_STATES: tuple[State, ...] = (
    State("not_sent", "open", "asked for, to be sent"),
    State("not_sent_late", "open", "asked for, late to be sent"),
    State("sent", "open", "sent"),
    State("sent_late", "open", "sent, late to be accepted"),
    State("accepted", "open", "accepted"),
    State("accepted_late", "open", "accepted, late to be seen"),
    State("seen", "open", "seen, the result is awaited"),
    State("seen_late", "open", "seen, the result is late"),
    State("stopped", "open", "came back: a decision is awaited"),
    State("look_through", "open", "history to be looked through"),
    State("result_in_time", "met", "result back in time"),
    State("result_late", "met", "result back late"),
    State("taken_up", "met", "taken up by the service that follows them"),
    State("groundless", "ended", "its reason had gone"),
    State("declined", "ended", "declined"),
    State("died", "ended", "died"),
    State("transferred", "ended", "cared for elsewhere or moved away"),
    State("handed_back", "ended", "handed back to the GP"),
    State("decided", "ended", "a clinician's decision"),
    State("struck_out", "ended", "struck out"),
    State("error_late", "ended", "entered in error, after it was late"),
    State("replaced", "replaced", "superseded before it was late"),
    State("replaced_late", "replaced", "superseded after it was late"),
    State("entered_in_error", "not_counted", "entered in error"),
)
BY_NAME: dict[CloseReason, RecheckState] = {
    "informed_decline": "declined",
    "died": "died",
    "transferred": "transferred",
    "handed_back": "handed_back",
    "clinician_decision": "decided",
    "struck_out": "struck_out",
    "entered_in_error": "entered_in_error",
}
"""How a re-check stands that somebody ended; the rest is ended by looks and by other asks. What was
found to be in error only after it was missed has a state of its own: a miss stays a miss."""
LOOKED: frozenset[CloseReason] = frozenset({"answered", "resolved"})
"""How a re-check ends when somebody looked."""
RESULT_BACK = "result_back"
"""How the row of a referral ends when its result came."""
REFERRAL_ENDS: dict[EndReason, ReferralState] = {
    "answered": "groundless",
    "resolved": "groundless",
    "under_care": "taken_up",
    "informed_decline": "declined",
    "died": "died",
    "transferred": "transferred",
    "handed_back": "handed_back",
    "clinician_decision": "decided",
    "struck_out": "struck_out",
    "entered_in_error": "entered_in_error",
}
"""How a referral stands that ended without a result, superseded ones apart, and those that were
found to be in error only after they were late."""
