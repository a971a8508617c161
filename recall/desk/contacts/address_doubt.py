"""Why an address is in doubt, since when, and which addresses are on record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from recall.loop.facts import AddressChecked, Returned
from recall.loop.outcomes import OUTCOMES
from recall.loop.trail import read_trail
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.facts.events import facts_for

DOUBTS = tuple(outcome.id for outcome in OUTCOMES if outcome.ends)


Since = tuple[int, datetime]
"""The history's number when something was recorded; the instant orders old rows without one."""


@dataclass(frozen=True)
class Doubt:
    """Since when the address or a number of a follow-up's person is in doubt."""

    since: Since | None
    came_back: bool
    """Whether a letter came back: the address itself is in doubt."""


def doubted(session: Session, follow_up_id: int, on: date) -> Doubt:
    """Return the doubt that stands: what was checked since it arose is in doubt no longer."""
    trail = read_trail(facts_for(session, [follow_up_id])[follow_up_id], on)
    if trail.doubt_on is None:
        return Doubt(None, came_back=False)
    checks = [n for n, event in enumerate(trail.events) if isinstance(event, AddressChecked)]
    since = trail.events[checks[-1] + 1 :] if checks else trail.events
    came_back = any(isinstance(event, Returned) for event in since)
    told = [_said_so(session, follow_up_id), _came_back(session, follow_up_id)]
    return Doubt(max((each for each in told if each), default=None), came_back)


def _said_so(session: Session, follow_up_id: int) -> Since | None:
    """Return since when somebody said that a number or an address is no longer right."""
    a, c = tables.AlsoAbout, tables.Contact
    too = select(a.contact_id).where(a.follow_up_id == follow_up_id, a.contact_id.is_not(None))
    wanted = select(c.recorded_no, c.recorded_at).where(
        (c.follow_up_id == follow_up_id) | c.id.in_(too), c.outcome.in_(DOUBTS), stands(c)
    )
    return _last(session, wanted.order_by(c.recorded_no.desc(), c.recorded_at.desc()))


def _came_back(session: Session, follow_up_id: int) -> Since | None:
    """Return since when a letter is back, from the history: its row keeps only the day."""
    a, p, h = tables.AlsoAbout, tables.Letter, tables.History
    too = select(a.letter_id).where(a.follow_up_id == follow_up_id, a.letter_id.is_not(None))
    letters = select(p.id).where(
        (p.follow_up_id == follow_up_id) | p.id.in_(too), p.returned_on.is_not(None), stands(p)
    )
    lines = h.entity == "letter", h.what == "returned", h.entity_id.in_(letters)
    return _last(session, select(h.id - 1, h.at).where(*lines).order_by(h.id.desc()))


def _last(session: Session, wanted: Select[int, datetime]) -> Since | None:
    row = session.execute(wanted.limit(1)).first()
    return None if row is None else (row[0], row[1])


def addresses(session: Session, person_id: int, on: date) -> list[Since]:
    """Return since when each address that stands for a person, or their adult, was recorded."""
    r = tables.ContactPoint
    mine = r.person_id == person_id, r.kind == "address", r.value.is_not(None), stands(r)
    wanted = select(r.recorded_no, r.recorded_at).where(*mine, r.until.is_(None) | (r.until > on))
    return [(no, at) for no, at in session.execute(wanted)]
