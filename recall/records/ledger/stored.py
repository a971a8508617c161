"""What the register holds of some people's dues, follow-ups and referrals, as plain values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import Any, TypeVar

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import IDS, many, many_of, table_of
from recall.schedule.plan import CloseReason, Due

NO_LONGER_ASKED = "no_longer_asked"
BY_ITSELF = frozenset({NO_LONGER_ASKED, "asked_again", "reopened", "closed"})
"""What planning notes of a referral: nobody has followed it by that."""
DUE_FIELDS: tuple[str, ...] = tuple(n for n in Due.__struct_fields__ if n != "anchor")
Asked = TypeVar("Asked", tables.FollowUp, tables.Referral, tables.Decision)
Ended = tuple[CloseReason | None, date | None, int | None, int | None]


@dataclass(frozen=True)
class StoredDue:
    """A due's row with its last event."""

    id: int
    due: Due
    is_open: bool
    reason: CloseReason | None = None
    closed_on: date | None = None
    visit_id: int | None = None
    """The visit that answered it."""
    decision_id: int | None = None


@dataclass(frozen=True)
class StoredFollowUp:
    """A follow-up's row with the numbers of the dues that it holds."""

    id: int
    due_ids: frozenset[int]
    row: tables.FollowUp

    @property
    def how_far(self) -> tuple[int, int, int]:
        """Return how far its contact run is; the greatest is furthest on."""
        return self.row.round, self.row.step_no, -self.id


@dataclass(frozen=True)
class StoredReferral:
    """A referral's row."""

    id: int
    row: tables.Referral


@dataclass(frozen=True)
class StoredLedger:
    """Everything of one person that a ledger is compared with."""

    dues: list[StoredDue] = field(default_factory=list)
    follow_ups: list[StoredFollowUp] = field(default_factory=list)
    referrals: list[StoredReferral] = field(default_factory=list)
    visits: dict[date, int] = field(default_factory=dict)
    """The visit that stands on a day; the last one entered where there are several."""
    decisions: dict[tuple[str, str | None, str, date], int] = field(default_factory=dict)
    """By ear, track, kind and day."""
    no_longer_asked: set[int] = field(default_factory=set)
    """Referrals that were already noted as such."""
    told_of: set[int] = field(default_factory=set)
    """Referrals of which anything is known that planning did not note by itself."""


def stored_ledgers(session: Session, ids: Sequence[int]) -> dict[int, StoredLedger]:
    """Return what is held of each of some people."""
    found: dict[int, StoredLedger] = {person_id: StoredLedger() for person_id in ids}
    _add_dues(session, ids, found)
    _add_follow_ups(session, ids, found)
    for row in _rows(session, tables.Referral, ids):
        found[row.person_id].referrals.append(StoredReferral(row.id, row))
    _add_decisions(session, ids, found)
    visits = select(tables.Visit.person_id, tables.Visit.on, tables.Visit.id)
    visits = visits.where(tables.Visit.person_id.in_(IDS), stands(tables.Visit)).order_by(
        tables.Visit.id
    )
    for person_id, on, visit_id in many(session, visits, ids):
        found[person_id].visits[on] = visit_id
    return found


def _rows(session: Session, table: type[Asked], ids: Sequence[int]) -> Sequence[Asked]:
    return many_of(session, table, _whole_rows(table), ids)


@cache
def _whole_rows(table: type[Asked]) -> Select[*tuple[Any, ...]]:
    return select(table_of(table)).where(table.person_id.in_(IDS), stands(table)).order_by(table.id)


def _add_dues(session: Session, ids: Sequence[int], found: dict[int, StoredLedger]) -> None:
    last = _last_events(session, ids)
    c = tables.Due
    fields = (getattr(tables.Due, name) for name in DUE_FIELDS)
    wanted = select(c.person_id, c.id, c.is_open, *fields).where(c.person_id.in_(IDS), stands(c))
    for person_id, number, is_open, *values in many(session, wanted.order_by(c.id), ids):
        due = Due(**dict(zip(DUE_FIELDS, values, strict=True)))
        ended = None if is_open else last.get(number)
        found[person_id].dues.append(StoredDue(number, due, is_open, *(ended or ())))


def _add_decisions(session: Session, ids: Sequence[int], found: dict[int, StoredLedger]) -> None:
    for row in _rows(session, tables.Decision, ids):
        which = row.ear, row.track, row.kind, row.on
        found[row.person_id].decisions[which] = row.id
    noted = (
        select(tables.Referral.person_id, tables.Referral.id, tables.ReferralEvent.what)
        .join_from(
            tables.Referral,
            tables.ReferralEvent,
            tables.ReferralEvent.referral_id == tables.Referral.id,
        )
        .where(tables.Referral.person_id.in_(IDS), stands(tables.ReferralEvent))
    )
    for person_id, referral_id, what in many(session, noted, ids):
        if what == NO_LONGER_ASKED:
            found[person_id].no_longer_asked.add(referral_id)
        elif what not in BY_ITSELF:
            found[person_id].told_of.add(referral_id)


def _last_events(session: Session, ids: Sequence[int]) -> dict[int, Ended]:
    """Return why, when, by which visit and by which decision each due ended, by number."""
    c = tables.DueEvent
    wanted = (
        select(c.due_id, c.reason, c.on, c.visit_id, c.decision_id)
        .join_from(tables.DueEvent, tables.Due, c.due_id == tables.Due.id)
        .where(tables.Due.person_id.in_(IDS), stands(tables.DueEvent))
        .order_by(c.id)
    )
    return {due_id: (why, on, v, d) for due_id, why, on, v, d in many(session, wanted, ids)}


def _add_follow_ups(session: Session, ids: Sequence[int], found: dict[int, StoredLedger]) -> None:
    links = (
        select(tables.FollowUpDue.follow_up_id, tables.FollowUpDue.due_id)
        .join_from(
            tables.FollowUpDue,
            tables.FollowUp,
            tables.FollowUpDue.follow_up_id == tables.FollowUp.id,
        )
        .where(tables.FollowUp.person_id.in_(IDS), tables.FollowUpDue.left_at.is_(None))
    )
    held: dict[int, set[int]] = defaultdict(set)
    for follow_up_id, due_id in many(session, links, ids):
        held[follow_up_id].add(due_id)
    for row in _rows(session, tables.FollowUp, ids):
        stored = StoredFollowUp(row.id, frozenset(held[row.id]), row)
        found[row.person_id].follow_ups.append(stored)
