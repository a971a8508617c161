"""Comparing a ledger's dues with the rows: new ones, closings, ones that stand up again.

A due's dates are never edited. One that the fold no longer makes, because a visit was voided
or corrected, is closed as entered in error; where its visit still stands, as superseded.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from operator import attrgetter
from typing import Any

from recall.records.ledger.changes import Changes, Row
from recall.records.ledger.stored import DUE_FIELDS, Kept, KeptDue
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


@dataclass(frozen=True)
class Standing:
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


def reconcile_dues(changes: Changes, kept: Kept, ledger: Ledger, on: date) -> list[Standing]:
    """Work out the changes to the rows of dues; return every due as it stands then."""
    rows: dict[tuple[Any, ...], list[KeptDue]] = defaultdict(list)
    for row in kept.dues:
        rows[identity(row.due)].append(row)
    asked: list[tuple[Due, Closing | None]] = [(c.due, c) for c in ledger.closings]
    asked += [(due, None) for due in ledger.open]
    matched = [(due, closing, _take(rows, due)) for due, closing in asked]
    dropped = [row for unused in rows.values() for row in unused]
    standing = [_dropped(changes, kept, row, on) for row in dropped]
    for due, closing, kept_due in matched:
        if kept_due is None:
            standing.append(_new(changes, kept, due, closing, _places(due, dropped)))
        else:
            standing.append(_same(changes, kept, kept_due, closing, on))
    return standing


def _take(rows: dict[tuple[Any, ...], list[KeptDue]], due: Due) -> KeptDue | None:
    same = rows.get(identity(due))
    return same.pop(0) if same else None


def _places(due: Due, dropped: Sequence[KeptDue]) -> frozenset[int]:
    """Return the dropped rows about the same thing, so that its contact run goes on."""
    thing = due.ear, due.track, due.kind
    return frozenset(k.id for k in dropped if (k.due.ear, k.due.track, k.due.kind) == thing)


def _new(
    changes: Changes, kept: Kept, due: Due, closing: Closing | None, replaces: frozenset[int]
) -> Standing:
    row = Row()
    values = {name: getattr(due, name) for name in DUE_FIELDS}
    values |= {"on": due.asked_on, "is_open": closing is None}
    values["visit_id"] = kept.visits.get(due.asked_on)
    changes.new_dues.append((row, values))
    changes.note("asked", "due", row, now=_says(due))
    if closing is not None:
        _close(changes, kept, row, closing)
    if closing is None:
        return Standing(row, due, None, replaces=replaces)
    return Standing(row, due, closing.reason, closing.on, replaces)


def _same(
    changes: Changes, kept: Kept, kept_due: KeptDue, closing: Closing | None, on: date
) -> Standing:
    row, due = Row(kept_due.id), kept_due.due
    if closing is None:
        if not kept_due.is_open:
            changes.due_states.append((kept_due.id, True))
            changes.due_events.append((row, {"on": on, "what": "reopened"}))
            changes.note("reopened", "due", row, was=kept_due.reason)
        return Standing(row, due, None)
    visit_id = kept.visits.get(closing.visit_on) if closing.visit_on else None
    told = (kept_due.reason, kept_due.closed_on, kept_due.visit_id)
    if kept_due.is_open or told != (closing.reason, closing.on, visit_id):
        if kept_due.is_open:
            changes.due_states.append((kept_due.id, False))
        _close(changes, kept, row, closing)
    return Standing(row, due, closing.reason, closing.on)


def _dropped(changes: Changes, kept: Kept, kept_due: KeptDue, on: date) -> Standing:
    """Close a row that the fold no longer makes."""
    gone = kept_due.due.asked_on not in kept.visits
    reason: CloseReason = "entered_in_error" if gone else "superseded"
    row = Row(kept_due.id)
    if kept_due.is_open or kept_due.reason not in ("entered_in_error", "superseded"):
        if kept_due.is_open:
            changes.due_states.append((kept_due.id, False))
        why = "No longer asked for once the visits were corrected."
        event = {"on": on, "what": "closed", "reason": reason, "why": why}
        changes.due_events.append((row, event))
        changes.note("closed", "due", row, was=kept_due.reason, now=reason)
    return Standing(row, kept_due.due, reason, on if kept_due.is_open else kept_due.closed_on)


def _close(changes: Changes, kept: Kept, row: Row, closing: Closing) -> None:
    due = closing.due
    event = {
        "on": closing.on,
        "what": "closed",
        "reason": closing.reason,
        "visit_id": kept.visits.get(closing.visit_on) if closing.visit_on else None,
        "decision_id": kept.decisions.get((due.ear, due.track, due.kind, closing.on)),
    }
    changes.due_events.append((row, event))
    changes.note("closed", "due", row, now={"reason": closing.reason, "on": closing.on})


def _says(due: Due) -> dict[str, Any]:
    """Return what the history says of a new due."""
    return {name: getattr(due, name) for name in IDENTITY}
