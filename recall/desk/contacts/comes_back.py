"""A call that nobody answered in the morning comes back that afternoon, once.

An hour of the day that was promised and has not come is kept when somebody rings before it.
That another time of day finds other people at home, and the hours, are common practice, no
published source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import time

from sqlalchemy import select

from recall.desk.contacts.entries import Attempt
from recall.desk.core.acting import Act
from recall.loop.outcomes import Outcome
from recall.loop.steps import AFTERNOON
from recall.records import tables
from recall.records.facts.cases import stands

NOON = time(12)


def comes_back(act: Act, outcome: Outcome, attempt: Attempt) -> Attempt:
    """Return an attempt with the hour at which it is made once more today, where it is."""
    if not outcome.comes_back or attempt.by_them or attempt.channel != "phone":
        return attempt
    desk = act.desk
    if (hour := _promised(act)) is not None:
        return replace(attempt, until=desk.today, until_at=hour)
    if desk.clock.has_come(desk.today, NOON) or not desk.calendar.is_open(desk.today):
        return attempt
    if _came_back(act, attempt.outcome):
        return attempt
    return replace(attempt, until=desk.today, until_at=AFTERNOON)


def _promised(act: Act) -> time | None:
    """Return the hour of today that the person was promised last, where it has not come."""
    c, desk = tables.Contact, act.desk
    mine = c.person_id == act.person_id, c.on <= desk.today, stands(c)
    last = select(c.until, c.until_at).where(*mine).order_by(c.on.desc(), c.id.desc()).limit(1)
    until, at = act.session.execute(last).one_or_none() or (None, None)
    hour = time.fromisoformat(at) if at and until == desk.today else None
    if hour is None or hour == AFTERNOON or desk.clock.has_come(desk.today, hour):
        return None
    return hour


def _came_back(act: Act, outcome: str) -> bool:
    """Return whether such a call of today is to be made once more already, or was."""
    c = tables.Contact
    same = c.person_id == act.person_id, c.on == act.desk.today, c.outcome == outcome, stands(c)
    return act.session.scalar(select(c.id).where(*same, c.until == c.on).limit(1)) is not None
