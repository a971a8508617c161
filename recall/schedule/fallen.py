"""Why a line that stood before a visit stands no more after it, in a few words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from recall.care.ear import Side
from recall.care.services import SERVICES
from recall.schedule.plan import Due, EndReason, Ledger
from recall.schedule.plan_lines import Line

NOT_ASKED = "nothing that is recorded asks for it now"
_ENDED: Mapping[EndReason, str] = {
    "resolved": "what it was for is gone",
    "informed_decline": "they say no to it",
    "under_care": "whoever has it under their care sees to it",
    "struck_out": "struck out",
    "clinician_decision": "decided by hand",
    "transferred": "cared for elsewhere",
    "handed_back": "handed back to the GP",
    "entered_in_error": "it was entered in error",
    "died": "they died",
}


def why_fallen(line: Line, ledger: Ledger, on: date) -> str:
    """Return why a line fell away on a day, each reason once.

    Args:
        line: as it stood before.
        ledger: the whole story, with what the day brought.
        on: the day of the visit.
    """
    found = dict.fromkeys(_of_referral(line, ledger, on) or _of_dues(line, ledger, on))
    return "; ".join(found) or NOT_ASKED


def _of_dues(line: Line, ledger: Ledger, on: date) -> list[str]:
    ends = {(c.due.ear, c.due.track, c.due.kind): c.reason for c in ledger.closings if c.on == on}
    keys = [(due, ends.get((due.ear, due.track, due.kind))) for due in line.dues]
    return [_due_words(due, reason, ledger) for due, reason in keys if reason is not None]


def _of_referral(line: Line, ledger: Ledger, on: date) -> list[str]:
    if line.referral is None:
        return []
    to, ears = line.referral.to, line.referral.ears
    ends = [
        e.reason
        for e in ledger.referral_ends
        if e.on == on and e.referral.to == to and not set(e.referral.ears).isdisjoint(ears)
    ]
    return [_ENDED.get(reason, _in_its_place(ears[0], ledger)) for reason in ends]


def _due_words(due: Due, reason: EndReason, ledger: Ledger) -> str:
    if due.needs == ("hearing",) and reason in ("answered", "resolved"):
        return "tested at this visit" + (", and good" if reason == "resolved" else "")
    if reason == "answered":
        return "looked at, at this visit"
    if due.kind == "loop" and reason == "resolved":
        return "that care is over"
    if reason == "superseded":
        return _in_its_place(due.ear, ledger)
    return _ENDED[reason]


def _in_its_place(side: Side, ledger: Ledger) -> str:
    """Return what takes the place of something in an ear: who is asked about it, where any is."""
    asked = dict.fromkeys(_asked(side, ledger))
    return f"left to {' and '.join(asked)}" if asked else "another line takes its place"


def _asked(side: Side, ledger: Ledger) -> Iterator[str]:
    for referral in ledger.referrals:
        if side in referral.ears:
            yield SERVICES[referral.to].short
