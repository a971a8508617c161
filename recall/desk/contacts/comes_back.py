"""A call that nobody answered in the morning comes back that afternoon, once.

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
from recall.records import tables
from recall.records.facts.cases import stands

NOON = time(12)
AFTERNOON = time(14)
"""From this hour on it is rung once more."""


def comes_back(act: Act, outcome: Outcome, attempt: Attempt) -> Attempt:
    """Return an attempt with the hour at which it is made once more today, where it is."""
    if not outcome.comes_back or attempt.by_them or attempt.channel != "phone":
        return attempt
    desk = act.desk
    if desk.clock.has_come(desk.today, NOON) or not desk.calendar.is_open(desk.today):
        return attempt
    if _came_back(act, attempt.outcome):
        return attempt
    return replace(attempt, until=desk.today, until_at=AFTERNOON)


def _came_back(act: Act, outcome: str) -> bool:
    """Return whether such a call of today is to be made once more already, or was."""
    c = tables.Contact
    same = c.person_id == act.person_id, c.on == act.desk.today, c.outcome == outcome, stands(c)
    return act.session.scalar(select(c.id).where(*same, c.until == c.on).limit(1)) is not None
