"""Claims: two desks do not ring the same person; a claim runs out by itself.

A claim is on everything that is open for the person: whoever has one follow-up in hand has all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, func, select, update
from sqlalchemy.orm import Session

from recall.errors import Conflict
from recall.records import tables
from recall.records.tables.statements import table_of

HOLDS = timedelta(minutes=10)
SILENT = timedelta(seconds=75)
"""An open desk goes on with its claim each minute; a silent one of one's own name is lost."""

Own = Sequence[datetime] | None
"""Until when those are whom one desk has in hand: no two desks claim at one instant, so it tells
desks under one name apart. None: all under the name, as for a command."""
AT_ANOTHER_DESK = "They are in hand at another desk under your name."


def claim(
    session: Session, follow_up_id: int, by_id: int, at: datetime, own: Own = None
) -> datetime:
    """Claim the person of an open follow-up, or go on with one's own claim; return until when.

    Whom a desk of one's own name has that has gone silent is taken over from it.

    Raises:
        Conflict: somebody else has claimed the person, or the same name at another desk that goes
            on with it, or it is no longer open.
    """
    until = at + HOLDS
    c = tables.FollowUp
    person_id = session.scalar(select(c.person_id).where(c.id == follow_up_id, c.is_open))
    if person_id is None or held_by_another(session, person_id, by_id, at) is not None:
        raise Conflict(
            f"Follow-up {follow_up_id} is with somebody else, or closed.",
            hint="Take the next one; a claim runs out by itself.",
        )
    there = None if own is None else at_another_desk(session, follow_up_id, by_id, at, own)
    if there is not None and lost_from(there) > at:
        raise Conflict(
            AT_ANOTHER_DESK,
            hint=f"Take the next one, or press again in {_seconds(lost_from(there) - at)} "
            "seconds: unless that desk is heard of, they are yours then.",
        )
    session.execute(
        update(table_of(tables.FollowUp))
        .where(c.person_id == person_id, c.is_open)
        .values(claim_by_id=by_id, claim_until=until)
    )
    return until


def held_by_another(session: Session, person_id: int, by_id: int, at: datetime) -> int | None:
    """Return which other member of staff has a person in hand, if anybody has."""
    c = tables.FollowUp
    theirs = c.person_id == person_id, c.is_open, c.claim_by_id != by_id, c.claim_until > at
    return session.scalar(select(c.claim_by_id).where(*theirs).limit(1))


def lost_from(until: datetime) -> datetime:
    """Return from when on the desk that claimed until then is taken for lost."""
    return until - HOLDS + SILENT


def _seconds(left: timedelta) -> int:
    return math.ceil(left.total_seconds())


def is_at_another_desk(
    session: Session, follow_up_id: int, by_id: int, at: datetime, own: Sequence[datetime] = ()
) -> bool:
    """Return whether another desk under this name has the person of a follow-up in hand."""
    return at_another_desk(session, follow_up_id, by_id, at, own) is not None


def at_another_desk(
    session: Session, follow_up_id: int, by_id: int, at: datetime, own: Sequence[datetime] = ()
) -> datetime | None:
    """Return until when another desk under this name has the person in hand; None if none has."""
    c = tables.FollowUp
    person_id = select(c.person_id).where(c.id == follow_up_id).scalar_subquery()
    held = c.person_id == person_id, c.is_open, c.claim_by_id == by_id, c.claim_until > at
    return session.scalar(select(func.max(c.claim_until)).where(*held, c.claim_until.not_in(own)))


def release(session: Session, follow_up_id: int, by_id: int, own: Own = None) -> None:
    """Give up one's own claim on the person of a follow-up; another desk keeps whom it has."""
    c = tables.FollowUp
    person_id = select(c.person_id).where(c.id == follow_up_id).scalar_subquery()
    mine: list[ColumnElement[bool]] = [c.person_id == person_id, c.claim_by_id == by_id]
    if own is not None:
        mine.append(c.claim_until.in_(tuple(own)))
    session.execute(
        update(table_of(tables.FollowUp)).where(*mine).values(claim_by_id=None, claim_until=None)
    )


def release_all(session: Session, by_id: int, until: datetime) -> None:
    """Give up every claim of one desk: those that it made until an instant."""
    c = tables.FollowUp
    session.execute(
        update(table_of(tables.FollowUp))
        .where(c.is_open, c.claim_by_id == by_id, c.claim_until == until)
        .values(claim_by_id=None, claim_until=None)
    )
