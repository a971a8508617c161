"""Comparing a ledger's dues with the rows: new ones, closings, ones that stand up again.

A due's dates are never edited. One that the fold no longer makes, because a visit was voided
or corrected, is closed as entered in error; where its visit still stands, as superseded.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from datetime import date
from operator import attrgetter
from typing import Any

import msgspec

from recall.records.ledger.changes import Changes, Row
from recall.records.ledger.stored import DUE_FIELDS, StoredDue, StoredLedger
from recall.schedule.plan import CloseReason, Closing, Due, Ledger

IDENTITY = (
    "ear",
    "track",
    "kind",
    "rule",
    "rule_version",
    "earliest",
    "target",
    "latest",
    "urgency",
    "asked_on",
)
"""What makes a due the same one in two folds; its wording may change."""


class Reconciled(msgspec.Struct, frozen=True):
    """A due after the comparison: open, or closed and why; what it takes the place of."""

    row: Row
    due: Due
    reason: CloseReason | None
    """None while it is open."""
    closed_on: date | None = None
    replaces: frozenset[int] = frozenset()
    """Rows that the fold no longer makes, whose place this new one takes."""


identity: Callable[[Due], tuple[Any, ...]] = attrgetter(*IDENTITY)
"""Return what makes a due the same one in two folds."""
_fields: Callable[[Due], tuple[Any, ...]] = attrgetter(*DUE_FIELDS)


def reconcile_dues(
    changes: Changes, stored: StoredLedger, ledger: Ledger, on: date
) -> list[Reconciled]:
    """Work out the changes to the rows of dues; return every due as it stands then."""
    rows: dict[tuple[Any, ...], list[StoredDue]] = defaultdict(list)
    for row in stored.dues:
        rows[identity(row.due)].append(row)
    asked: list[tuple[Due, Closing | None]] = [(c.due, c) for c in ledger.closings]
    asked += [(due, None) for due in ledger.open]
    matched = [(due, closing, _take(rows, due)) for due, closing in asked]
    dropped = [row for unused in rows.values() for row in unused]
    reconciled = [_dropped(changes, stored, row, on) for row in dropped]
    for due, closing, stored_due in matched:
        if stored_due is None:
            reconciled.append(_new(changes, stored, due, closing, _places(due, dropped)))
        else:
            reconciled.append(_same(changes, stored, stored_due, closing, on))
    return reconciled


def _take(rows: dict[tuple[Any, ...], list[StoredDue]], due: Due) -> StoredDue | None:
    same = rows.get(identity(due))
    return same.pop(0) if same else None


def _places(due: Due, dropped: Sequence[StoredDue]) -> frozenset[int]:
    """Return the dropped rows about the same thing, so that its contact run goes on."""
    thing = due.ear, due.track, due.kind
    return frozenset(k.id for k in dropped if (k.due.ear, k.due.track, k.due.kind) == thing)


def _new(
    changes: Changes,
    stored: StoredLedger,
    due: Due,
    closing: Closing | None,
    replaces: frozenset[int],
) -> Reconciled:
    row = Row()
    values: dict[str, Any] = dict(zip(DUE_FIELDS, _fields(due), strict=True))
    values["on"], values["is_open"] = due.asked_on, closing is None
    values["visit_id"] = stored.visits.get(due.asked_on)
    changes.new_dues.append((row, values))
    changes.note("asked", "due", row, now=_says(due))
    if closing is not None:
        _close(changes, stored, row, closing)
    if closing is None:
        return Reconciled(row, due, None, replaces=replaces)
    return Reconciled(row, due, closing.reason, closing.on, replaces)


def _same(
    changes: Changes, stored: StoredLedger, stored_due: StoredDue, closing: Closing | None, on: date
) -> Reconciled:
    row, due = Row(stored_due.id), stored_due.due
    if closing is None:
        if not stored_due.is_open:
            changes.due_states.append((stored_due.id, True))
            changes.due_events.append((row, {"on": on, "what": "reopened"}))
            changes.note("reopened", "due", row, was=stored_due.reason)
        return Reconciled(row, due, None)
    visit_id = stored.visits.get(closing.visit_on) if closing.visit_on else None
    told = (stored_due.reason, stored_due.closed_on, stored_due.visit_id)
    if stored_due.is_open or told != (closing.reason, closing.on, visit_id):
        if stored_due.is_open:
            changes.due_states.append((stored_due.id, False))
        _close(changes, stored, row, closing)
    return Reconciled(row, due, closing.reason, closing.on)


def _dropped(changes: Changes, stored: StoredLedger, stored_due: StoredDue, on: date) -> Reconciled:
    """Close a row that the fold no longer makes."""
    gone = stored_due.due.asked_on not in stored.visits
    reason: CloseReason = "entered_in_error" if gone else "superseded"
    row = Row(stored_due.id)
    if stored_due.is_open or stored_due.reason not in ("entered_in_error", "superseded"):
        if stored_due.is_open:
            changes.due_states.append((stored_due.id, False))
        why = "No longer asked for once the visits were corrected."
        event = {"on": on, "what": "closed", "reason": reason, "why": why}
        changes.due_events.append((row, event))
        changes.note("closed", "due", row, was=stored_due.reason, now=reason)
    return Reconciled(
        row, stored_due.due, reason, on if stored_due.is_open else stored_due.closed_on
    )


def _close(changes: Changes, stored: StoredLedger, row: Row, closing: Closing) -> None:
    due = closing.due
    event = {
        "on": closing.on,
        "what": "closed",
        "reason": closing.reason,
        "visit_id": stored.visits.get(closing.visit_on) if closing.visit_on else None,
        "decision_id": stored.decisions.get((due.ear, due.track, due.kind, closing.on)),
    }
    changes.due_events.append((row, event))
    changes.note("closed", "due", row, now={"reason": closing.reason, "on": closing.on})


def _says(due: Due) -> dict[str, Any]:
    """Return what the history says of a new due."""
    return dict(zip(IDENTITY, identity(due), strict=True))
