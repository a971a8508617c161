"""Fitting new groups of dues to the follow-ups that are there.

Letters that were sent must still count: a group goes on with the follow-up whose contact run
is furthest on among those that hold, or held, one of its dues.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from recall.care.case import URGENCIES
from recall.records import tables
from recall.records.ledger.changes import Changes, Row
from recall.records.ledger.reconcile import Reconciled, identity
from recall.records.ledger.stored import StoredFollowUp, StoredLedger
from recall.schedule.plan import Due, FollowUp

_COPIED = ("earliest", "target", "latest", "urgency", "tracks", "ears", "do", "reasons", "offer_on")
_IN_HISTORY = ("earliest", "target", "latest", "urgency", "step", "next_step_on")
REASON_ORDER = (
    "died",
    "transferred",
    "informed_decline",
    "handed_back",
    "clinician_decision",
    "struck_out",
    "answered",
    "resolved",
    "superseded",
    "entered_in_error",
)
"""Which of its dues' reasons a closed follow-up is given."""


@dataclass(frozen=True)
class Opening:
    """The first contact step of a follow-up, as the protocol's contact steps say."""

    step: str
    next_step_on: date
    step_no: int = 0


Opens = Callable[[FollowUp], Opening]


@dataclass(frozen=True)
class _Group:
    """A group with the rows of its dues, and the dues that make a follow-up its own."""

    follow_up: FollowUp
    rows: tuple[Row, ...]
    known: frozenset[int]


def regroup(
    changes: Changes,
    stored: StoredLedger,
    reconciled: Sequence[Reconciled],
    follow_ups: Sequence[FollowUp],
    on: date,
    opens: Opens,
) -> None:
    """Work out the changes to the rows of follow-ups and of what they hold."""
    groups = _groups(reconciled, follow_ups)
    goes_on = _assign(groups, stored.follow_ups)
    holder = {due_id: f.id for f in stored.follow_ups for due_id in f.due_ids}
    for number, group in enumerate(groups):
        old = goes_on.get(number)
        if old is None:
            follow_up = _open(changes, group, on, opens)
        else:
            follow_up = Row(old.id)
            _go_on(changes, old, group, opens)
        _hold(changes, follow_up, group, holder)
    used = {old.id for old in goes_on.values()}
    for old in stored.follow_ups:
        if old.row.is_open and old.id not in used:
            _end(changes, old, reconciled, on)


def groups_that_stand(
    stored: StoredLedger, reconciled: Sequence[Reconciled], dues: Sequence[Due]
) -> list[list[Due]] | None:
    """Return how the open dues are grouped already; None where they are not the same as before.

    What people were told about, and booked for, stays together while nothing of it changes: a
    holiday that is entered later takes no group apart.
    """
    before = {each.id for each in stored.dues if each.is_open}
    now = {identity(each.due): each.row.id for each in reconciled if each.reason is None}
    follow_ups = [f for f in stored.follow_ups if f.row.is_open]
    held = [number for f in follow_ups for number in f.due_ids & before]
    if set(now.values()) != before or sorted(held) != sorted(before):
        return None
    by_number = {now[identity(due)]: due for due in dues}
    parts = [[by_number[number] for number in f.due_ids & before] for f in follow_ups]
    return [part for part in parts if part] if len(by_number) == len(before) else None


def _groups(reconciled: Sequence[Reconciled], follow_ups: Sequence[FollowUp]) -> list[_Group]:
    by_identity = {identity(s.due): s for s in reconciled if s.reason is None}
    groups = []
    for follow_up in follow_ups:
        members = [by_identity[identity(due)] for due in follow_up.dues]
        known = {m.row.id for m in members if m.row.id is not None}
        known.update(*(m.replaces for m in members))
        groups.append(_Group(follow_up, tuple(m.row for m in members), frozenset(known)))
    return groups


def _assign(groups: Sequence[_Group], old: Sequence[StoredFollowUp]) -> dict[int, StoredFollowUp]:
    """Give each group at most one follow-up and each follow-up at most one group."""
    pairs = [
        (f, number, len(f.due_ids & group.known))
        for number, group in enumerate(groups)
        for f in old
        if f.due_ids & group.known
    ]
    pairs.sort(key=lambda p: (p[0].row.is_open, p[0].how_far, p[2], -p[1]), reverse=True)
    goes_on: dict[int, StoredFollowUp] = {}
    used: set[int] = set()
    for follow_up, number, _shared in pairs:
        if number not in goes_on and follow_up.id not in used:
            goes_on[number] = follow_up
            used.add(follow_up.id)
    return goes_on


def _values(follow_up: FollowUp) -> dict[str, Any]:
    values = {name: getattr(follow_up, name) for name in _COPIED}
    return values | {"urgency_rank": URGENCIES.index(follow_up.urgency)}


def _changed(old: tables.FollowUp, follow_up: FollowUp) -> dict[str, Any]:
    """Return the columns that a group changes.

    The loop may have moved the rank up meanwhile, and the calendar have offered a day: they
    stay while the urgency and the window are the same.
    """
    values = {n: v for n, v in _values(follow_up).items() if getattr(old, n) != v}
    if "urgency" not in values:
        values.pop("urgency_rank", None)
    if follow_up.offer_on is None and values.keys().isdisjoint(_COPIED[:3]):
        values.pop("offer_on", None)
    return values


def _open(changes: Changes, group: _Group, on: date, opens: Opens) -> Row:
    row, first = Row(), opens(group.follow_up)
    values = _values(group.follow_up) | {
        "on": max(due.asked_on for due in group.follow_up.dues),
        "step": first.step,
        "step_no": first.step_no,
        "next_step_on": first.next_step_on,
    }
    changes.new_follow_ups.append((row, values))
    changes.note("opened", "follow_up", row, now=_window(values))
    return row


def _go_on(changes: Changes, old: StoredFollowUp, group: _Group, opens: Opens) -> None:
    """Update the window; the next step may only come earlier here, the loop sets it anew."""
    values = _changed(old.row, group.follow_up)
    if not old.row.is_open:
        values |= {"is_open": True, "closed_on": None, "close_reason": None}
    if not values:
        return
    first = opens(group.follow_up).next_step_on
    before = old.row.next_step_on
    values["next_step_on"] = first if before is None else min(before, first)
    changes.follow_ups.append((old.id, values))
    what = "changed" if old.row.is_open else "reopened"
    changes.note(
        what, "follow_up", Row(old.id), was=_history_values_of(old.row), now=_window(values)
    )


def _hold(changes: Changes, follow_up: Row, group: _Group, holder: dict[int, int]) -> None:
    for due in group.rows:
        held_by = holder.get(due.id) if due.id is not None else None
        if due.id is not None and held_by is not None:
            if held_by == follow_up.id:
                continue
            changes.left.append(due.id)
        changes.links.append((follow_up, due))


def _end(changes: Changes, old: StoredFollowUp, reconciled: Sequence[Reconciled], on: date) -> None:
    """Close a follow-up on the day on which the last of its dues ended."""
    held = [s for s in reconciled if s.row.id in old.due_ids]
    reason = next((r for r in REASON_ORDER if r in {s.reason for s in held}), "superseded")
    ended = [s.closed_on for s in held if s.closed_on is not None]
    closed_on = max(ended) if held and len(ended) == len(held) else on
    ends = {"closed_on": closed_on, "close_reason": reason}
    values = {"is_open": False, "next_step_on": None, **ends}
    changes.follow_ups.append((old.id, values))
    changes.note("closed", "follow_up", Row(old.id), was=_history_values_of(old.row), now=reason)


def _window(values: dict[str, Any]) -> dict[str, Any]:
    """Return what the history says of a follow-up."""
    return {name: values[name] for name in _IN_HISTORY if name in values}


def _history_values_of(row: tables.FollowUp) -> dict[str, Any]:
    return {name: getattr(row, name) for name in _IN_HISTORY}
