"""How far several people's dates may be moved in one go.

Moving one person's dates is a judgement about that person. Moving many is not, so it may not take
anybody beyond what the rules themselves allow when they share an appointment: later by a quarter
of the days that were asked for. What is urgent or late already, or was moved before, is decided
one by one: it cannot creep. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.protocol.contact import PRESSING
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import many
from recall.schedule.calendar import say_day
from recall.schedule.sharing import FAR

ONE_BY_ONE = "Move it by itself, not among others"


def furthest(dues: Sequence[tables.Due]) -> date | None:
    """Return the last day to which dues that are looked at together may be moved among others."""
    days = (due.latest + _quarter(due) for due in dues)
    return min(days, default=None)


def why_not_among_others(session: Session, dues: Sequence[tables.Due], on: date) -> str:
    """Return why these dues are moved one by one; nothing where they may go among others."""
    if any(due.urgency in PRESSING for due in dues):
        return f"{ONE_BY_ONE}: it is urgent."
    if any(due.latest < on for due in dues):
        return f"{ONE_BY_ONE}: its latest day has gone by."
    if any(_was_moved(session, due) for due in dues):
        return f"{ONE_BY_ONE}: it was moved before."
    return ""


def beyond(dues: Sequence[tables.Due], latest: date) -> str:
    """Return why dues may not be moved to a latest day among others; nothing where they may."""
    last = furthest(dues)
    if last is None or latest <= last:
        return ""
    return f"{ONE_BY_ONE}: among others it may go to {say_day(last)} at most."


def _quarter(due: tables.Due) -> timedelta:
    return timedelta(days=(due.target - due.asked_on).days // FAR)


def _was_moved(session: Session, due: tables.Due) -> bool:
    """Return whether somebody's move made this due: it stands since that very day."""
    d = tables.Decision
    same = d.person_id == due.person_id, d.ear == due.ear, d.track == due.track, d.kind == due.kind
    wanted = select(d.id).where(*same, d.action == "move", d.on == due.asked_on, stands(d))
    return bool(many(session, wanted.limit(1)))
