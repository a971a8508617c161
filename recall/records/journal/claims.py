"""Claims: two desks do not ring the same person; a claim runs out by itself.

A claim is on everything that is open for the person: whoever has one follow-up in hand has all.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from recall.errors import Conflict
from recall.records import tables
from recall.records.tables.statements import table_of

HOLDS = timedelta(minutes=10)


def claim(session: Session, follow_up_id: int, by_id: int, at: datetime) -> datetime:
    """Claim the person of an open follow-up, or go on with one's own claim; return until when.

    Raises:
        Conflict: somebody else has claimed the person, or it is no longer open.
    """
    until = at + HOLDS
    c = tables.FollowUp
    person_id = session.scalar(select(c.person_id).where(c.id == follow_up_id, c.is_open))
    if person_id is None or held_by_another(session, person_id, by_id, at) is not None:
        raise Conflict(
            f"Follow-up {follow_up_id} is with somebody else, or closed.",
            hint="Take the next one; a claim runs out by itself.",
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


def is_at_another_desk(session: Session, follow_up_id: int, by_id: int, at: datetime) -> bool:
    """Return whether a desk under this name has the person of a follow-up in hand.

    Whoever asks has given back their own before.
    """
    c = tables.FollowUp
    person_id = select(c.person_id).where(c.id == follow_up_id).scalar_subquery()
    held = c.person_id == person_id, c.is_open, c.claim_by_id == by_id, c.claim_until > at
    return session.scalar(select(c.id).where(*held).limit(1)) is not None


def release(session: Session, follow_up_id: int, by_id: int) -> None:
    """Give up one's own claim on the person of a follow-up."""
    c = tables.FollowUp
    person_id = select(c.person_id).where(c.id == follow_up_id).scalar_subquery()
    session.execute(
        update(table_of(tables.FollowUp))
        .where(c.person_id == person_id, c.claim_by_id == by_id)
        .values(claim_by_id=None, claim_until=None)
    )


def release_all(session: Session, by_id: int, until: datetime) -> None:
    """Give up every claim of one desk: those that it made until an instant."""
    c = tables.FollowUp
    session.execute(
        update(table_of(tables.FollowUp))
        .where(c.is_open, c.claim_by_id == by_id, c.claim_until == until)
        .values(claim_by_id=None, claim_until=None)
    )
