"""What the plan asks, worked out again from every visit, against the rows that are kept.

An ask is told apart by ear, track, kind and the day that asked: dates may differ where the
practice has adopted another protocol since, and that has a list of its own.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date
from typing import NamedTuple, cast

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.case import To, Track, Urgency
from recall.care.ear import Side
from recall.care.services import SERVICES
from recall.desk.core.replanning import NO_END, decided_by_people
from recall.desk.core.session import Desk
from recall.records import tables
from recall.records.facts.cases import cases_of, stands
from recall.records.tables.statements import IDS, columns_of, many
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
    stored_plan = _StoredPlan(session, ids, desk.protocol.digest)
    for number, case in cases_of(session, ids).items():
        decided = decisions.get(number, ())
        ledger = fold(case, desk.protocol, NO_END, decisions=decided, population=desk.populations)
        yield from _dues(number, ledger, stored_plan)
        yield from _referrals(number, ledger, stored_plan)
    yield from stored_plan.closed_without_reason()


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
_WITHOUT_REASON = select(_D.id).where(
    _D.person_id.in_(IDS), stands(_D), ~_D.is_open, ~_SAID.exists()
)
_REFERRALS = select(*columns_of(_ReferralRow, tables.Referral)).where(
    tables.Referral.person_id.in_(IDS), stands(tables.Referral)
)


class _StoredPlan:
    """The rows of some people's dues and referrals, by what tells them apart."""

    def __init__(self, session: Session, ids: Sequence[int], digest: str) -> None:
        rules = select(tables.Protocol.id).where(tables.Protocol.digest == digest)
        self.rules = frozenset(session.scalars(rules))
        """The protocol that stands: what it asked is compared to the day."""
        self.dues: dict[DueKey, list[_DueRow]] = defaultdict(list)
        for row in cast(Sequence[_DueRow], many(session, _DUES, ids)):
            self.dues[row[1:6]].append(row)
        self.not_followed = {number for (number,) in many(session, _NOT_FOLLOWED, ids)}
        self.without_reason = {number for (number,) in many(session, _WITHOUT_REASON, ids)}
        self.referrals: dict[ReferralKey, _ReferralRow] = {}
        for referral in cast(Sequence[_ReferralRow], many(session, _REFERRALS, ids)):
            for ear in referral.ears:
                key_ = referral.person_id, referral.to, ear, referral.asked_on
                self.referrals[key_] = referral

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

    def closed_without_reason(self) -> Iterator[FoundFields]:
        """Give dues that are closed although nothing says why."""
        if not self.without_reason:
            return
        for row in (row for rows in self.dues.values() for row in rows):
            if row.id in self.without_reason:
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


def _referrals(person_id: int, ledger: Ledger, stored_plan: _StoredPlan) -> Iterator[FoundFields]:
    for referral in ledger.referrals:
        keys = [(person_id, referral.to, ear, referral.asked_on) for ear in referral.ears]
        rows = [stored_plan.referrals.get(key) for key in keys]
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
