"""What the register holds of some people's dues, follow-ups and referrals, as plain values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.facts.cases import stands
from recall.schedule.plan import Due

_due = tables.Due.__table__
_event = tables.DueEvent.__table__
_follow_up = tables.FollowUp.__table__
_link = tables.FollowUpDue.__table__
_referral = tables.Referral.__table__
_visit = tables.Visit.__table__
_referred = tables.ReferralEvent.__table__
_decision = tables.Decision.__table__
NO_LONGER_ASKED = "no_longer_asked"
DUE_FIELDS: tuple[str, ...] = Due.__struct_fields__


@dataclass(frozen=True)
class KeptDue:
    """A due's row with its last event."""

    id: int
    due: Due
    is_open: bool
    reason: str | None = None
    closed_on: date | None = None
    visit_id: int | None = None
    """The visit that answered it."""
    decision_id: int | None = None


@dataclass(frozen=True)
class KeptFollowUp:
    """A follow-up's row with the numbers of the dues that it holds."""

    id: int
    due_ids: frozenset[int]
    row: dict[str, Any]

    @property
    def how_far(self) -> tuple[int, int, int]:
        """Return how far its contact run is; the greatest is furthest on."""
        return self.row["round"], self.row["step_no"], -self.id


@dataclass(frozen=True)
class KeptReferral:
    """A referral's row."""

    id: int
    row: dict[str, Any]


@dataclass(frozen=True)
class Kept:
    """Everything of one person that a ledger is compared with."""

    dues: list[KeptDue] = field(default_factory=list)
    follow_ups: list[KeptFollowUp] = field(default_factory=list)
    referrals: list[KeptReferral] = field(default_factory=list)
    visits: dict[date, int] = field(default_factory=dict)
    """The visit that stands on a day; the last one entered where there are several."""
    decisions: dict[tuple[str, str | None, str, date], int] = field(default_factory=dict)
    """By ear, track, kind and day."""
    no_longer_asked: set[int] = field(default_factory=set)
    """Referrals that were already noted as such."""


def kept_for(session: Session, ids: Sequence[int]) -> dict[int, Kept]:
    """Return what is held of each of some people."""
    found: dict[int, Kept] = {person_id: Kept() for person_id in ids}
    _add_dues(session, ids, found)
    _add_follow_ups(session, ids, found)
    for row in _rows(session, _referral, ids):
        found[row["person_id"]].referrals.append(KeptReferral(row["id"], row))
    _add_decisions(session, ids, found)
    visits = select(_visit.c.person_id, _visit.c.on, _visit.c.id)
    visits = visits.where(_visit.c.person_id.in_(ids), stands(_visit)).order_by(_visit.c.id)
    for person_id, on, visit_id in session.execute(visits):
        found[person_id].visits[on] = visit_id
    return found


def _rows(session: Session, table: Any, ids: Sequence[int]) -> list[dict[str, Any]]:
    wanted = select(table).where(table.c.person_id.in_(ids), stands(table)).order_by(table.c.id)
    return [dict(row) for row in session.execute(wanted).mappings()]


def _add_dues(session: Session, ids: Sequence[int], found: dict[int, Kept]) -> None:
    last = _last_events(session, ids)
    for row in _rows(session, _due, ids):
        due = Due(**{name: row[name] for name in DUE_FIELDS})
        event = {} if row["is_open"] else last.get(row["id"], {})
        found[row["person_id"]].dues.append(KeptDue(row["id"], due, row["is_open"], **event))


def _add_decisions(session: Session, ids: Sequence[int], found: dict[int, Kept]) -> None:
    for row in _rows(session, _decision, ids):
        which = row["ear"], row["track"], row["kind"], row["on"]
        found[row["person_id"]].decisions[which] = row["id"]
    noted = (
        select(_referral.c.person_id, _referral.c.id)
        .join_from(_referral, _referred, _referred.c.referral_id == _referral.c.id)
        .where(_referral.c.person_id.in_(ids), _referred.c.what == NO_LONGER_ASKED)
        .where(stands(_referred))
    )
    for person_id, referral_id in session.execute(noted):
        found[person_id].no_longer_asked.add(referral_id)


def _last_events(session: Session, ids: Sequence[int]) -> dict[int, dict[str, Any]]:
    c = _event.c
    wanted = (
        select(c.due_id, c.reason, c.on.label("closed_on"), c.visit_id, c.decision_id)
        .join_from(_event, _due, c.due_id == _due.c.id)
        .where(_due.c.person_id.in_(ids), stands(_event))
        .order_by(c.id)
    )
    events = [dict(row) for row in session.execute(wanted).mappings()]
    return {event.pop("due_id"): event for event in events}


def _add_follow_ups(session: Session, ids: Sequence[int], found: dict[int, Kept]) -> None:
    links = (
        select(_link.c.follow_up_id, _link.c.due_id)
        .join_from(_link, _follow_up, _link.c.follow_up_id == _follow_up.c.id)
        .where(_follow_up.c.person_id.in_(ids), _link.c.left_at.is_(None))
    )
    held: dict[int, set[int]] = defaultdict(set)
    for follow_up_id, due_id in session.execute(links):
        held[follow_up_id].add(due_id)
    for row in _rows(session, _follow_up, ids):
        kept = KeptFollowUp(row["id"], frozenset(held[row["id"]]), row)
        found[row["person_id"]].follow_ups.append(kept)
