"""What the plan asks, worked out again from every visit, against the rows that are kept.

An ask is told apart by ear, track, kind and the day that asked: dates may differ where the
practice has adopted another protocol since, and that has a list of its own.
"""

from __future__ import annotations

import operator
from collections import defaultdict
from collections.abc import Container, Iterator, Mapping, Sequence
from datetime import date
from functools import reduce
from typing import Any, NamedTuple, cast

from sqlalchemy import ColumnElement, String, bindparam, case, select
from sqlalchemy import cast as cast_as
from sqlalchemy.orm import InstrumentedAttribute, Session

from recall.care.case import To, Track, Urgency
from recall.care.ear import Side
from recall.care.services import SERVICES
from recall.desk.core.replanning import NO_END, decided_by_people
from recall.desk.core.session import Desk
from recall.records import tables
from recall.records.facts.cases import cases_of, stands
from recall.records.tables.statements import IDS, columns_of, given, many
from recall.schedule.fold import fold
from recall.schedule.plan import Due, Kind, Ledger

DueKey = tuple[int, Side, Track, Kind, date]
ReferralKey = tuple[int, To, Side, date]
FoundFields = tuple[str, int | None, str, int, date | None, str]
"""The fields of a finding, in order."""


_WAITING = select(tables.ToPlan.person_id).where(tables.ToPlan.person_id.in_(IDS))


def check(desk: Desk, session: Session, ids: Sequence[int]) -> Iterator[FoundFields]:
    """Give what is wrong with the kept plans of some people."""
    waiting = {number for (number,) in many(session, _WAITING, ids)}
    for number in sorted(waiting):
        yield "not_planned", number, "person", number, None, "Changed, and not planned again yet."
    ids = [number for number in ids if number not in waiting]
    decisions = decided_by_people(session, ids)
    as_asked = _AsAsked(session, ids, desk.protocol.digest)
    otherwise: dict[int, Ledger] = {}
    for number, known in cases_of(session, ids).items():
        decided = decisions.get(number, ())
        ledger = fold(known, desk.protocol, NO_END, decisions=decided, population=desk.populations)
        if not as_asked.holds(number, ledger):
            otherwise[number] = ledger
        yield from _referrals(number, ledger, as_asked.referrals)
    yield from _what_differs(desk, session, otherwise, as_asked.without_reason)


def _what_differs(
    desk: Desk, session: Session, ledgers: Mapping[int, Ledger], without_reason: Mapping[int, int]
) -> Iterator[FoundFields]:
    """Say in what the rows of those people are otherwise, of whom something is."""
    ids = sorted({*ledgers, *without_reason.values()})
    if not ids:
        return
    stored_plan = _StoredPlan(session, ids, desk.protocol.digest)
    for number, ledger in ledgers.items():
        yield from _dues(number, ledger, stored_plan)
    yield from stored_plan.closed_without_reason(without_reason)


class _DueRow(NamedTuple):
    """A kept due: [1:6] is what tells it apart, [6:10] its window with its urgency."""

    id: int
    person_id: int
    ear: Side
    track: Track
    kind: Kind
    asked_on: date
    earliest: date
    target: date
    latest: date
    urgency: Urgency
    is_open: bool
    protocol_id: int | None


class _ReferralRow(NamedTuple):
    """A kept referral, by what tells it apart."""

    id: int
    person_id: int
    to: To
    ears: tuple[Side, ...]
    asked_on: date
    is_open: bool
    end_reason: str | None


_OTHER_RULES = "*"
"""In the place of a window: other rules than those that stand asked for it."""


def _text(*columns: InstrumentedAttribute[Any]) -> ColumnElement[str]:
    """Return some columns as one text, each with a mark behind it; days as in ISO 8601."""
    parts = [cast_as(column, String) + "|" for column in columns]
    return reduce(operator.add, parts)


# Each statement is made once: making one for every page takes longer than asking it does.
_D, _LINK, _EVENT, _F = tables.Due, tables.FollowUpDue, tables.DueEvent, tables.FollowUp
_DUES = select(*columns_of(_DueRow, _D)).where(_D.person_id.in_(IDS), stands(_D))
_HELD = (
    select(_LINK.id)
    .join_from(_LINK, _F, _LINK.follow_up_id == _F.id)
    .where(_LINK.due_id == _D.id, _LINK.left_at.is_(None), _F.is_open, stands(_F))
)
_NOT_FOLLOWED = select(_D.id).where(_D.person_id.in_(IDS), stands(_D), _D.is_open, ~_HELD.exists())
_SAID = select(_EVENT.id).where(
    _EVENT.due_id == _D.id,
    _EVENT.what == "closed",
    _EVENT.reason.is_not(None),
    stands(_EVENT),
)
_WITHOUT_REASON = select(_D.id, _D.person_id).where(
    _D.person_id.in_(IDS), stands(_D), ~_D.is_open, ~_SAID.exists()
)
_REFERRALS = select(*columns_of(_ReferralRow, tables.Referral)).where(
    tables.Referral.person_id.in_(IDS), stands(tables.Referral)
)


_RULES = select(tables.Protocol.id).where(tables.Protocol.digest == bindparam("digest"))
_KEY = _text(_D.person_id, _D.ear, _D.track, _D.kind, _D.asked_on)
_WINDOW = _text(_D.earliest, _D.target, _D.latest, _D.urgency)
_FOLLOWED = select(_KEY + case((_D.protocol_id.in_(_RULES), _WINDOW), else_=_OTHER_RULES)).where(
    _D.person_id.in_(IDS), stands(_D), _D.is_open, _HELD.exists()
)
_CLOSED = select(_KEY).where(_D.person_id.in_(IDS), stands(_D), ~_D.is_open)


class _AsAsked:
    """The rows of some people, as far as it takes to see that a plan stands as it is asked.

    That is so of nearly everybody, and each row is one text for it: reading every column of every
    row costs more than all else that is done with it. Whoever is left is looked at in full.
    """

    def __init__(self, session: Session, ids: Sequence[int], digest: str) -> None:
        values = {**given(ids), "digest": digest}
        connection = session.connection()
        self.followed = frozenset(connection.scalars(_FOLLOWED, values))
        """Open dues that an open follow-up holds: for which days, or that other rules asked."""
        self.closed = frozenset(connection.scalars(_CLOSED, values))
        self.without_reason = dict(many(session, _WITHOUT_REASON, ids))
        """Whose each due is that is closed although nothing says why."""
        self.referrals: dict[ReferralKey, _ReferralRow] = {}
        for referral in cast(Sequence[_ReferralRow], many(session, _REFERRALS, ids)):
            for ear in referral.ears:
                key_ = referral.person_id, referral.to, ear, referral.asked_on
                self.referrals[key_] = referral

    def holds(self, person_id: int, ledger: Ledger) -> bool:
        """Return whether every ask is open as it is asked for and followed, or closed."""
        for due in ledger.open:
            key = _key(person_id, due)
            asked = (
                f"{due.earliest.isoformat()}|{due.target.isoformat()}|"
                f"{due.latest.isoformat()}|{due.urgency}|"
            )
            if key + asked not in self.followed and key + _OTHER_RULES not in self.followed:
                return False
        return all(_key(person_id, each.due) in self.closed for each in ledger.closings)


def _key(person_id: int, due: Due) -> str:
    """Return what tells an ask apart, as the database makes it of a row."""
    return f"{person_id}|{due.ear}|{due.track}|{due.kind}|{due.asked_on.isoformat()}|"


class _StoredPlan:
    """The rows of some people's dues, by what tells them apart."""

    def __init__(self, session: Session, ids: Sequence[int], digest: str) -> None:
        rules = select(tables.Protocol.id).where(tables.Protocol.digest == digest)
        self.rules = frozenset(session.scalars(rules))
        """The protocol that stands: what it asked is compared to the day."""
        self.dues: dict[DueKey, list[_DueRow]] = defaultdict(list)
        for row in cast(Sequence[_DueRow], many(session, _DUES, ids)):
            self.dues[row[1:6]].append(row)
        self.not_followed = {number for (number,) in many(session, _NOT_FOLLOWED, ids)}

    def holds(self, person_id: int, due: Due) -> bool:
        """Return whether an ask is open as the same rules ask for it, and followed."""
        asked = due.earliest, due.target, due.latest, due.urgency
        for row in self.due(person_id, due):
            ours = row.protocol_id in self.rules and row[6:10] == asked
            if ours and row.is_open and row.id not in self.not_followed:
                return True
        return False

    def due(self, person_id: int, due: Due) -> Sequence[_DueRow]:
        """Return the rows of an ask."""
        return self.dues.get((person_id, due.ear, due.track, due.kind, due.asked_on), ())

    def closed_without_reason(self, numbers: Container[int]) -> Iterator[FoundFields]:
        """Give dues that are closed although nothing says why, by their numbers."""
        for row in (row for rows in self.dues.values() for row in rows):
            if row.id in numbers:
                says = f"{_what(row)}: closed without a reason."
                yield "closed_without_reason", row.person_id, "due", row.id, row.asked_on, says


def _dues(person_id: int, ledger: Ledger, stored_plan: _StoredPlan) -> Iterator[FoundFields]:
    """Every ask of every visit is open and followed, or closed with a reason."""
    for due in ledger.open:
        if stored_plan.holds(person_id, due):
            continue
        rows = stored_plan.due(person_id, due)
        open_rows = [row for row in rows if row.is_open]
        if not rows:
            says = f"{_what(due)}: asked for, and neither open nor closed."
            yield "not_kept", person_id, "person", person_id, due.asked_on, says
        elif not open_rows:
            says = f"{_what(due)}: closed, though nothing answered it."
            yield "closed_unanswered", person_id, "due", rows[-1].id, due.asked_on, says
        elif all(row.id in stored_plan.not_followed for row in open_rows):
            says = f"{_what(due)}: open, and no open follow-up holds it."
            yield "not_followed", person_id, "due", open_rows[-1].id, due.asked_on, says
        else:
            yield from _otherwise(due, open_rows, stored_plan.rules)
    for closing in ledger.closings:
        if not stored_plan.due(person_id, closing.due):
            says = f"{_what(closing.due)}: asked for, and neither open nor closed."
            yield "not_kept", person_id, "person", person_id, closing.due.asked_on, says


def _otherwise(
    due: Due, open_rows: Sequence[_DueRow], rules: frozenset[int]
) -> Iterator[FoundFields]:
    """Give what stands for other days, or less urgent, than the same rules ask for."""
    asked = due.earliest, due.target, due.latest, due.urgency
    mine = [row for row in open_rows if row.protocol_id in rules]
    if len(mine) == len(open_rows) and asked not in [row[6:10] for row in mine]:
        row = mine[-1]
        says = (
            f"{_what(due)}: stands for {row.earliest} to {row.latest}, {row.urgency}; the visits "
            f"ask for {due.earliest} to {due.latest}, {due.urgency}."
        )
        yield "asks_otherwise", row.person_id, "due", row.id, due.asked_on, says


def _referrals(
    person_id: int, ledger: Ledger, kept: Mapping[ReferralKey, _ReferralRow]
) -> Iterator[FoundFields]:
    for referral in ledger.referrals:
        keys = [(person_id, referral.to, ear, referral.asked_on) for ear in referral.ears]
        rows = [kept.get(key) for key in keys]
        to = SERVICES[referral.to].short
        if None in rows:
            says = f"Referral to {to}: asked for, and neither open nor closed."
            yield "referral_not_kept", person_id, "person", person_id, referral.asked_on, says
        for row in filter(None, rows):
            if not row.is_open and row.end_reason is None:
                says = f"Referral to {to}: closed without a reason."
                day = referral.asked_on
                yield "closed_without_reason", person_id, "referral", row.id, day, says


def _what(due: Due | _DueRow) -> str:
    kind = "" if due.kind == "recheck" else f" ({due.kind})"
    return f"{due.track.replace('_', ' ').capitalize()}, {due.ear} ear{kind}"
