"""Claims: two desks do not ring the same person; a claim runs out by itself."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import or_, update
from sqlalchemy.orm import Session

from recall.errors import Conflict
from recall.records import tables
from recall.records.tables.statements import table_of

HOLDS = timedelta(minutes=10)


def claim(session: Session, follow_up_id: int, by_id: int, at: datetime) -> datetime:
    """Claim an open follow-up, or go on with one's own claim; return until when it holds.

    Raises:
        Conflict: somebody else has claimed it, or it is no longer open.
    """
    until = at + HOLDS
    c = tables.FollowUp
    free = or_(c.claim_by_id.is_(None), c.claim_by_id == by_id, c.claim_until <= at)
    taken = session.scalars(
        update(table_of(tables.FollowUp))
        .where(c.id == follow_up_id, c.is_open, free)
        .values(claim_by_id=by_id, claim_until=until)
        .returning(c.id)
    ).all()
    if not taken:
        raise Conflict(
            f"Follow-up {follow_up_id} is with somebody else, or closed.",
            hint="Take the next one; a claim runs out by itself.",
        )
    return until


def release(session: Session, follow_up_id: int, by_id: int) -> None:
    """Give up one's own claim."""
    c = tables.FollowUp
    session.execute(
        update(table_of(tables.FollowUp))
        .where(c.id == follow_up_id, c.claim_by_id == by_id)
        .values(claim_by_id=None, claim_until=None)
    )
