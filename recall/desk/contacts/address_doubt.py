"""Why an address is in doubt, since when, and which addresses are on record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.loop.facts import AddressChecked, Returned
from recall.loop.outcomes import OUTCOMES
from recall.loop.trail import read_trail
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.facts.events import facts_for

DOUBTS = tuple(outcome.id for outcome in OUTCOMES if outcome.ends)


@dataclass(frozen=True)
class Doubt:
    """Since when the address or a number of a follow-up's person is in doubt."""

    at: datetime | None
    came_back: bool
    """Whether a letter came back: the address itself is in doubt."""


def doubted(session: Session, follow_up_id: int, on: date) -> Doubt:
    """Return the doubt that stands: what was checked since it arose is in doubt no longer."""
    trail = read_trail(facts_for(session, [follow_up_id])[follow_up_id], on)
    if trail.doubt_on is None:
        return Doubt(None, came_back=False)
    checks = [n for n, event in enumerate(trail.events) if isinstance(event, AddressChecked)]
    since = trail.events[checks[-1] + 1 :] if checks else trail.events
    back = [datetime.combine(e.on, time.min, UTC) for e in since if isinstance(e, Returned)]
    a = tables.AlsoAbout
    too = select(a.contact_id).where(a.follow_up_id == follow_up_id, a.contact_id.is_not(None))
    told = session.scalar(
        select(func.max(tables.Contact.recorded_at)).where(
            (tables.Contact.follow_up_id == follow_up_id) | tables.Contact.id.in_(too),
            tables.Contact.outcome.in_(DOUBTS),
            stands(tables.Contact),
        )
    )
    at = max([*back, *([told] if told else [])], default=None)
    return Doubt(at, came_back=bool(back))


def addresses(session: Session, person_id: int, on: date) -> list[datetime]:
    """Return when each address that stands for a person, or their adult, was recorded."""
    r = tables.ContactPoint
    mine = r.person_id == person_id, r.kind == "address", r.value.is_not(None), stands(r)
    wanted = select(r.recorded_at).where(*mine, r.until.is_(None) | (r.until > on))
    return list(session.scalars(wanted))
