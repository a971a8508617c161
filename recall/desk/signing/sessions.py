"""Sessions of the plain commands: a random token of limited life, of which the register keeps a
digest.

NIST SP 800-63B-4 (2025), section 2.2.3: at its second level somebody signs in anew after 24 hours,
and after an hour in which nothing was done; how long that is here, the practice sets.
"""

from __future__ import annotations

import secrets
from datetime import UTC, timedelta

from sqlalchemy import insert, select, update

from recall.clock import Clock
from recall.desk.core.session import StaffRow
from recall.desk.signing.hashing import digest
from recall.records import tables
from recall.records.database.store import Store
from recall.records.tables.statements import table_of, whole

S = tables.SignedIn
WHOLE_LIFE = timedelta(hours=24)
"""By the source above."""
TOUCH = timedelta(minutes=1)
"""Seen so lately, a session is not written down again."""
_ASKEW = timedelta(minutes=5)
"""By so much a clock may have been put back without ending a session."""


def begin(store: Store, clock: Clock, member: StaffRow) -> str:
    """Begin a session and return its token, which is kept nowhere else."""
    token, now = secrets.token_urlsafe(32), clock.now().astimezone(UTC)
    values = {"staff_id": member.id, "token_digest": digest(token), "began_at": now, "seen_at": now}
    with store.write() as session:
        session.execute(insert(table_of(S)).values(**values))
    return token


def whose(store: Store, clock: Clock, token: str, idle: timedelta) -> int | None:
    """Return whose session a token is, and note that it is in use; None where it has ended."""
    now = clock.now().astimezone(UTC)
    with store.read() as session:
        wanted = select(whole(S)).where(S.token_digest == digest(token), S.ended_at.is_(None))
        found = session.scalars(wanted).one_or_none()
    if found is None or now - found.seen_at > idle or now - found.began_at > WHOLE_LIFE:
        return None
    if found.seen_at > now + _ASKEW:
        return None
    if now - found.seen_at >= TOUCH and not store.is_newer:
        with store.write() as session:
            session.execute(update(table_of(S)).where(S.id == found.id).values(seen_at=now))
    return found.staff_id


def end(store: Store, clock: Clock, token: str) -> bool:
    """End a session; return whether it was one."""
    now = clock.now().astimezone(UTC)
    wanted = (S.token_digest == digest(token)) & S.ended_at.is_(None)
    with store.write() as session:
        found = session.scalar(select(S.id).where(wanted))
        session.execute(update(table_of(S)).where(wanted).values(ended_at=now))
    return found is not None
