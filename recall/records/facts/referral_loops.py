"""Referrals with what became known about them, from which the loop works out how they stand."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any, cast, get_args

import msgspec
from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from recall.care.case import To, Urgency
from recall.care.ear import Side
from recall.loop.referral import ReferralEvent, ReferralLoop, Route, What
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.facts.events import FROM_FILE, last_visits
from recall.records.tables.statements import IDS, columns_of, given, many
from recall.schedule.plan import Reason, Referral, Stages

_WHATS = frozenset(get_args(What))
_reasons = msgspec.json.Decoder(tuple[Reason, ...]).decode


def referral_loops(
    session: Session, referral_ids: Sequence[int], known_at: datetime | None = None
) -> dict[int, ReferralLoop]:
    """Return some referrals with what became known about them, by number."""
    found: dict[int, ReferralLoop] = {}
    for some in pages(referral_ids):
        found |= _loops_page(session, some, known_at)
    return found


def _loops_page(
    session: Session, referral_ids: Sequence[int], known_at: datetime | None
) -> dict[int, ReferralLoop]:
    events: dict[int, list[ReferralEvent]] = defaultdict(list)
    happened_ = session.execute(_referral_events(known_at), given(referral_ids)).all()
    for number, on, what, day, spoke_with, reason in happened_:
        event = ReferralEvent(on=on, what=what, day=day, spoke_with=spoke_with, reason=reason)
        events[number].append(event)
    asks = cast(Sequence[_Ask], session.execute(_ASKS, given(referral_ids)).all())
    asked_by = [ask.visit_id for ask in asks if ask.visit_id is not None]
    files = {number for (number,) in many(session, _FROM_FILE, asked_by)}
    visits = last_visits(session, [ask.person_id for ask in asks], None)
    visited = {person: last.visited_on for person, last in visits.items()}
    return {
        ask.id: _loop(ask, events[ask.id], ask.visit_id in files, visited.get(ask.person_id))
        for ask in asks
    }


@lru_cache(maxsize=16)
def _referral_events(known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    c = tables.ReferralEvent
    return (
        select(c.referral_id, c.on, c.what, c.day, c.spoke_with, c.reason)
        .where(c.referral_id.in_(IDS), stands(c, known_at), c.what.in_(_WHATS))
        .order_by(c.on, c.id)
    )


@dataclass(frozen=True)
class _Ask:
    """What the loop must know of a referral."""

    id: int
    person_id: int
    visit_id: int | None
    to: To
    ears: tuple[Side, ...]
    urgency: Urgency
    within_days: int
    asked_on: date
    sent_by: date
    accepted_by: date
    seen_by: date
    result_by: date
    reasons: str
    route: Route


_ASKS = select(*columns_of(_Ask, tables.Referral)).where(tables.Referral.id.in_(IDS))
_FROM_FILE = select(tables.Visit.id).where(
    tables.Visit.id.in_(IDS), tables.Visit.source == FROM_FILE
)


def _loop(
    row: _Ask,
    events: Sequence[ReferralEvent],
    from_file: bool,
    visited_on: date | None,
) -> ReferralLoop:
    stages = Stages(
        sent_by=row.sent_by,
        accepted_by=row.accepted_by,
        seen_by=row.seen_by,
        result_by=row.result_by,
    )
    referral = Referral(
        to=row.to,
        ears=row.ears,
        urgency=row.urgency,
        within_days=row.within_days,
        asked_on=row.asked_on,
        stages=stages,
        reasons=_reasons(row.reasons),
    )
    return ReferralLoop(
        referral=referral,
        route=row.route,
        events=tuple(events),
        from_file=from_file,
        visited_on=visited_on,
    )
