"""The list of referrals: which are to be chased, or all that are open.

A referral's search columns say when it is chased; what is shown is worked out from what became
known of it. What one service is asked at one visit is one line, whatever the ears.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from recall.care.case import To
from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.day_list import WHOLE, Part
from recall.desk.worklists.status_on import NOT_CONFIRMED, has_gone_by
from recall.loop.referral import LOOK_THROUGH, ReferralState, state
from recall.loop.referral_lines import ReferralOnDay, ReferralsLine, referral_lines
from recall.records.facts.candidates import of_sites, to_chase
from recall.records.facts.cases import pages, stands
from recall.records.facts.confirmed import waiting_since
from recall.records.facts.referral_loops import referral_loops
from recall.records.tables import Referral


@dataclass(frozen=True)
class ReferralLine:
    """What one service is asked at one visit, on a list: a referral, or one for each ear."""

    urgency: str
    reference: str
    name: str
    born: date
    postcode: str
    to: To
    ears: tuple[str, ...]
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
    """The first one's: each of the numbers means the line."""
    version: int
    person_id: int
    numbers: tuple[int, ...]


@needs(Right.LOOK)
def referrals(
    desk: Desk, part: Part = WHOLE, *, everything: bool = False, clinical: bool = False
) -> tuple[ReferralLine, ...]:
    """Return the referrals to be chased, or all open ones, the most pressing first."""
    with desk.store.read() as session:
        only_shown(desk, session)
        ids = _candidates(desk, session, everything, part.known_at)
        lines = referral_lines(
            each
            for each in on_day(desk, session, ids, part.known_at)
            if each.now.is_open and (everything or _is_due(each.now, desk.today))
        )
        shown = lines[part.offset : part.end]
        who = [each.first.person for each in shown]
        people = person_headers(session, who, desk.today, desk.protocol.contact)
        waits = waiting_since(session, Referral, [n for each in shown for n in each.numbers])
        return tuple(
            _line(each, people[each.first.person], desk.today, clinical, waits) for each in shown
        )


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
        *of_sites(session, Referral.person_id),
    )
    return session.scalars(then).all()


def on_day(
    desk: Desk, session: Session, ids: Iterable[int], known_at: datetime | None = None
) -> Iterable[ReferralOnDay]:
    """Yield some referrals, and how each stands on the desk's day."""
    r = Referral
    for some in pages(ids):
        loops = referral_loops(session, some, known_at)
        about = session.execute(select(r.id, r.version, r.person_id).where(r.id.in_(some)))
        for number, version, person in about:
            loop = loops[number]
            now = state(loop, desk.today, desk.protocol.contact, desk.calendar)
            yield ReferralOnDay(number=number, version=version, person=person, loop=loop, now=now)


def _line(
    found: ReferralsLine, who: PersonHeader, on: date, clinical: bool, waits: Collection[int]
) -> ReferralLine:
    first = found.first
    ask, now = first.loop.referral, first.now
    chase_on = now.chased_on or on
    more = (NOT_CONFIRMED,) if any(number in waits for number in found.numbers) else ()
    return ReferralLine(
        urgency=ask.urgency,
        reference=who.reference,
        name=who.name,
        born=who.born,
        postcode=who.postcode,
        to=ask.to,
        ears=found.ears,
        stage=now.stage,
        chase_on=chase_on,
        late_by_days=0 if now.stage == LOOK_THROUGH else max(0, (on - chase_on).days),
        next=found.why,
        by_phone=now.by_phone,
        route=first.loop.route,
        asked_on=ask.asked_on,
        seen_by=found.seen_by,
        contact_stopped=who.contact_stopped,
        warnings=(*who.warnings, *more),
        clinical=found.says if clinical else "",
        referral_id=first.number,
        version=first.version,
        person_id=first.person,
        numbers=found.numbers,
    )
