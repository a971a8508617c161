"""The list of referrals: which are to be chased, or all that are open.

A referral's search columns say when it is chased; what is shown is worked out from what became
known of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import msgspec
from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from recall.care.case import To
from recall.desk.core.guarding import needs
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.day_list import WHOLE, Part
from recall.desk.worklists.status_on import NOT_CONFIRMED, has_gone_by
from recall.loop.referral import LOOK_THROUGH, ReferralState, state
from recall.records.facts.candidates import to_chase
from recall.records.facts.cases import pages, stands
from recall.records.facts.confirmed import waiting_since
from recall.records.facts.events import referral_loops
from recall.records.tables import Referral
from recall.schedule.plan import Reason

_reasons = msgspec.json.Decoder(tuple[Reason, ...]).decode


@dataclass(frozen=True)
class ReferralLine:
    """One referral on a list."""

    urgency: str
    reference: str
    name: str
    born: date
    postcode: str
    to: To
    stage: str
    chase_on: date
    late_by_days: int
    next: str
    by_phone: bool
    route: str
    asked_on: date
    seen_by: date
    contact_stopped: str | None
    """Why nobody may ring or write about this; None where somebody may."""
    warnings: tuple[str, ...]
    clinical: str
    referral_id: int
    version: int
    person_id: int


@dataclass(frozen=True)
class _Found:
    """A referral, and how it stands on the desk's day."""

    row: Referral
    now: ReferralState


@needs(Right.LOOK)
def referrals(
    desk: Desk, part: Part = WHOLE, *, everything: bool = False, clinical: bool = False
) -> tuple[ReferralLine, ...]:
    """Return the referrals to be chased, or all open ones, the most pressing first."""
    with desk.store.read() as session:
        ids = _candidates(desk, session, everything, part.known_at)
        found = [
            each
            for each in _states(desk, session, ids, part.known_at)
            if each.now.is_open and (everything or _is_due(each.now, desk.today))
        ]
        found.sort(key=_pressing)
        shown = found[part.offset : part.end]
        who = [each.row.person_id for each in shown]
        people = person_headers(session, who, desk.today, desk.protocol.contact)
        waits = waiting_since(session, Referral, [each.row.id for each in shown])
        return tuple(
            _line(
                each,
                people[each.row.person_id],
                desk.today,
                clinical,
                (NOT_CONFIRMED,) if each.row.id in waits else (),
            )
            for each in shown
        )


def _pressing(each: _Found) -> tuple[int, date, int]:
    return each.row.urgency_rank, each.now.chased_on or date.min, each.row.id


def _is_due(now: ReferralState, on: date) -> bool:
    return now.stage != LOOK_THROUGH and _has_come(now, on)


def _has_come(now: ReferralState, on: date) -> bool:
    return now.chased_on is None or now.chased_on <= on


def _candidates(
    desk: Desk, session: Session, everything: bool, known_at: datetime | None
) -> Sequence[int]:
    """Return where to look; for a day that has gone by, everything that was open then."""
    if known_at is None and not has_gone_by(desk, session):
        live = desk.protocol.contact.live_from()
        return to_chase(session, None if everything else desk.today, live)
    then = select(Referral.id).where(
        Referral.asked_on <= desk.today,
        stands(Referral, known_at),
        or_(Referral.is_open, Referral.ended_on > desk.today),
    )
    return session.scalars(then).all()


def _states(
    desk: Desk, session: Session, ids: Iterable[int], known_at: datetime | None
) -> Iterable[_Found]:
    for some in pages(ids):
        loops = referral_loops(session, some, known_at)
        for row in session.scalars(select(Referral).where(Referral.id.in_(some))):
            now = state(loops[row.id], desk.today, desk.protocol.contact, desk.calendar)
            yield _Found(row, now)


def _line(
    found: _Found, who: PersonHeader, on: date, clinical: bool, more: tuple[str, ...]
) -> ReferralLine:
    row, now = found.row, found.now
    chase_on = now.chased_on or on
    return ReferralLine(
        urgency=row.urgency,
        reference=who.reference,
        name=who.name,
        born=who.born,
        postcode=who.postcode,
        to=row.to,
        stage=now.stage,
        chase_on=chase_on,
        late_by_days=0 if now.stage == LOOK_THROUGH else max(0, (on - chase_on).days),
        next=now.why,
        by_phone=now.by_phone,
        route=row.route,
        asked_on=row.asked_on,
        seen_by=now.seen_by or row.seen_by,
        contact_stopped=who.contact_stopped,
        warnings=(*who.warnings, *more),
        clinical=_said(row) if clinical else "",
        referral_id=row.id,
        version=row.version,
        person_id=row.person_id,
    )


def _said(row: Referral) -> str:
    return " ".join(f"{r.ear.capitalize()} ear: {r.says} ({r.rule})" for r in _reasons(row.reasons))
