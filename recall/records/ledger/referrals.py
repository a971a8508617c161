"""Fitting a ledger's referrals to the rows that are there.

A referral that was asked for again goes on as the same row, with what changed noted. One that
was already sent is never dropped because a visit was corrected: it stays open, and somebody is
asked to decide.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import msgspec

from recall.care.case import URGENCIES
from recall.records import tables
from recall.records.ledger.changes import Changes, Row
from recall.records.ledger.stored import NO_LONGER_ASKED, StoredLedger, StoredReferral
from recall.schedule.plan import EndReason, Ledger, Referral, ReferralEnd

UNSENT = "sent"
"""The stage of which nothing is known yet: the referral has not been sent."""
LOOK_THROUGH = "look_through"
"""The stage of what was asked for before the practice went live; it may have been sent."""
_IN_HISTORY = ("to", "ears", "urgency", "asked_on", "sent_by", "seen_by", "chase_on")
OURS = frozenset({"under_care", "entered_in_error", "superseded", "struck_out"})
"""Endings that were worked out here from what was decided; any other is kept by itself."""


def reconcile_referrals(changes: Changes, stored: StoredLedger, ledger: Ledger, on: date) -> None:
    """Work out the changes to the rows of referrals."""
    free = list(stored.referrals)
    wanted: list[tuple[Referral, ReferralEnd | None]] = [(r, None) for r in ledger.referrals]
    wanted += [(end.referral, end) for end in ledger.referral_ends]
    found = [(r, end, _take_same(free, r)) for r, end in wanted]
    for referral, end, old in found:
        row = old or _take_like(free, referral)
        if row is None:
            _new(changes, stored, referral, end)
        elif end is None:
            _again(changes, stored, row, referral, on)
        elif row.row.is_open:
            _end(changes, row, end.reason, end.on, on)
    for old in free:
        if old.row.is_open:
            _no_longer_asked(changes, stored, old, on)


def _take_same(free: list[StoredReferral], referral: Referral) -> StoredReferral | None:
    """Take the row of the very ask, whatever became of it."""
    for old in free:
        if (old.row.to, old.row.asked_on) == (referral.to, referral.asked_on) and (
            set(old.row.ears) & set(referral.ears)
        ):
            free.remove(old)
            return old
    return None


def _take_like(free: list[StoredReferral], referral: Referral) -> StoredReferral | None:
    """Take an open row to the same service about the same ear."""
    for old in free:
        same = old.row.to == referral.to and set(old.row.ears) & set(referral.ears)
        if same and old.row.is_open:
            free.remove(old)
            return old
    return None


def _values(referral: Referral) -> dict[str, Any]:
    stages = msgspec.structs.asdict(referral.stages)
    return {
        "to": referral.to,
        "ears": referral.ears,
        "urgency": referral.urgency,
        "urgency_rank": URGENCIES.index(referral.urgency),
        "within_days": referral.within_days,
        **stages,
        "reasons": msgspec.json.encode(referral.reasons).decode(),
        "asked_on": referral.asked_on,
    }


def _new(
    changes: Changes, stored: StoredLedger, referral: Referral, end: ReferralEnd | None
) -> None:
    row, values = Row(), _values(referral)
    values |= {
        "on": referral.asked_on,
        "visit_id": stored.visits.get(referral.asked_on),
        "is_open": end is None,
        "stage": UNSENT,
        "chase_on": referral.stages.sent_by if end is None else None,
        "ended_on": end.on if end else None,
        "end_reason": end.reason if end else None,
    }
    changes.new_referrals.append((row, values))
    changes.note("asked", "referral", row, now=_history_values(values))


def _again(
    changes: Changes, stored: StoredLedger, old: StoredReferral, referral: Referral, on: date
) -> None:
    """Go on with a row: what the plan says of it now, and open unless somebody ended it."""
    if not old.row.is_open and old.row.end_reason not in OURS:
        return
    values = {n: v for n, v in _values(referral).items() if getattr(old.row, n) != v}
    if not old.row.is_open:
        values |= {"is_open": True, "ended_on": None, "end_reason": None}
    was_given_up = old.id in stored.no_longer_asked
    if not (values or was_given_up):
        return
    if not old.row.is_open or was_given_up:
        changes.unclosed.append(old.id)
    values["visit_id"] = stored.visits.get(referral.asked_on)
    values["chase_on"] = _chase_on(old, referral)
    what = "asked_again" if old.row.is_open else "reopened"
    changes.referrals.append((old.id, values))
    changes.referral_events.append((Row(old.id), {"on": on, "what": what}))
    changes.note(
        what, "referral", Row(old.id), was=_history_values_of(old.row), now=_history_values(values)
    )


def _chase_on(old: StoredReferral, referral: Referral) -> date:
    """Return the day to chase: an earlier ask may bring it forward, the loop sets it anew."""
    before = old.row.chase_on
    if before is None or old.row.stage == UNSENT:
        return referral.stages.sent_by
    return before


def _no_longer_asked(changes: Changes, stored: StoredLedger, old: StoredReferral, on: date) -> None:
    gone = old.row.asked_on not in stored.visits
    untouched = old.row.stage == LOOK_THROUGH and old.id not in stored.told_of
    if old.row.stage == UNSENT or untouched:
        _end(changes, old, "entered_in_error" if gone else "superseded", on, on)
    elif old.id not in stored.no_longer_asked:
        # An open referral has its day to be chased; the table refuses one without.
        changes.referrals.append((old.id, {"chase_on": min(old.row.chase_on or on, on)}))
        changes.referral_events.append((Row(old.id), {"on": on, "what": NO_LONGER_ASKED}))
        changes.note(NO_LONGER_ASKED, "referral", Row(old.id), was=_history_values_of(old.row))


def _end(
    changes: Changes, old: StoredReferral, reason: EndReason, ended_on: date, on: date
) -> None:
    """Close a row for the day on which it ended; the event is of the day that it was found out."""
    values = {"is_open": False, "chase_on": None, "ended_on": ended_on, "end_reason": reason}
    changes.referrals.append((old.id, values))
    event = {"on": on, "what": "closed", "reason": reason}
    changes.referral_events.append((Row(old.id), event))
    changes.note("closed", "referral", Row(old.id), was=_history_values_of(old.row), now=reason)


def _history_values(values: dict[str, Any]) -> dict[str, Any]:
    """Return what the history says of a referral."""
    return {name: values[name] for name in _IN_HISTORY if name in values}


def _history_values_of(row: tables.Referral) -> dict[str, Any]:
    return {name: getattr(row, name) for name in _IN_HISTORY}
