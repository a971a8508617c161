"""A code that lets somebody set a new password, once: by the manager, by two people, or in time.

Whoever signs in has not forgotten, so that a code which was asked for behind their back falls
away with their next sign-in.
"""

from __future__ import annotations

import os
import secrets
from datetime import UTC, datetime, timedelta

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from recall.clock import Clock
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right, Role
from recall.desk.core.session import Desk, StaffRow, staff
from recall.desk.signing.hashing import digest
from recall.desk.signing.passwords import NO_ASK, P, has_one, here, note, plain_code, row_for
from recall.errors import NotFound, Refused
from recall.records.database.store import Store
from recall.records.tables.statements import table_of

LIFE = timedelta(hours=1)
"""How long a code can be used, and how long a first yes waits for a second: whoever it is for
stands beside them. Common practice, no source."""
ALONE, AMONG = 1, 3
"""Days that the owner of the register's file waits: working alone, and with others."""
STALE = timedelta(days=14)
"""What the owner asked for longer ago is asked for anew."""
_LETTERS = "ABCDEFGHJKMNPQRSTVWXYZ23456789"
"""Without those that are taken for one another."""


@needs(Right.VOUCH)
def give_code(desk: Desk, handle: str) -> str | None:
    """Return a code for somebody, or None where a second person has to agree first.

    Raises:
        NotFound: nobody of that handle works here.
        Refused: it is their own.
    """
    clock, member = Clock(desk.clock.zone, desk.clock.fixed), _somebody(desk, handle)
    if member.id == desk.by.id:
        raise Refused(
            f"{member.handle} does not let themselves in.",
            hint="Change your own with recall staff password; forgotten, others give the code.",
        )
    alone = desk.by.role is Role.MANAGER
    alone |= desk.allows(Right.KEEP_STAFF) and not has_one(desk.store, member)
    with desk.store.write() as session:
        row = row_for(session, member.id)
        asked = row.asked_at is not None and row.asked_at >= desk.now - LIFE
        if alone or (asked and row.asked_by_id not in (None, desk.by.id, member.id)):
            return _give(session, clock, desk.by.id, member)
        _ask(session, clock, desk.by.id, member)
    return None


def code_for_owner(store: Store, clock: Clock, handle: str) -> str | None:
    """Return a code asked for by the account that owns the register's file; None for not yet.

    For whoever works alone on another day than it was first asked for, with others three days
    later: they see it, and whoever it is about signs in and so ends it.

    Raises:
        NotFound: nobody of that handle works here.
        Refused: another account owns the file.
    """
    member = here(store, clock, handle)
    if member is None:
        raise NotFound(f"There is no member of staff {handle!r}.", hint="Look at the handle.")
    only_owner(store)
    people = [s for s in staff(store) if s.role is not Role.JOBS and s.left_on is None]
    days = ALONE if len(people) == 1 else AMONG
    with store.write() as session:
        row = row_for(session, member.id)
        first = row.asked_at if row.asked_by_id == member.id else None
        if first is None or clock.now() - first > STALE:
            _ask(session, clock, member.id, member)
            return None
        if clock.today() < clock.day_of(first) + timedelta(days=days):
            return None
        return _give(session, clock, member.id, member)


def owns(store: Store) -> bool:
    """Return whether the register's file is this account's own; on a server, the folder here."""
    if not hasattr(os, "getuid"):  # where files have no owner in numbers, its rights decide
        return True
    place = store.path if store.path.exists() else store.path.parent
    return os.getuid() in (place.stat().st_uid, 0)


def only_owner(store: Store) -> None:
    """Refuse whoever does not own the register's file.

    Raises:
        Refused: another account does.
    """
    if not owns(store):
        raise Refused(
            "Nobody is signed in.", hint="This is for the account that owns the register's file."
        )


def waits_for_code(store: Store, handle: str) -> bool:
    """Return whether a code was given for somebody, and not used yet."""
    names = {s.handle: s.id for s in staff(store)}
    with store.read() as session:
        wanted = select(P.code_digest).where(P.staff_id == names.get(handle.strip().lower()))
        return session.scalar(wanted) is not None


def _somebody(desk: Desk, handle: str) -> StaffRow:
    member = here(desk.store, desk.clock, handle)
    if member is None:
        raise NotFound(f"There is no member of staff {handle!r}.", hint="See: recall staff list.")
    return member


def _ask(session: Session, clock: Clock, by: int, member: StaffRow) -> None:
    asked = {"asked_at": clock.now().astimezone(UTC), "asked_by_id": by}
    session.execute(update(table_of(P)).where(P.staff_id == member.id).values(**asked))
    note(session, clock, by, member.id, f"asked for a code for {member.handle}")


def _give(session: Session, clock: Clock, by: int, member: StaffRow) -> str:
    parts = ["".join(secrets.choice(_LETTERS) for _ in range(5)) for _ in range(4)]
    code, now = "-".join(parts), clock.now().astimezone(UTC)
    values = {"code_digest": digest(plain_code(code)), "code_until": now + LIFE, "code_by_id": by}
    session.execute(update(table_of(P)).where(P.staff_id == member.id).values(**values, **NO_ASK))
    note(session, clock, by, member.id, f"gave a code for {member.handle}")
    return code


def waiting_asks(store: Store, now: datetime) -> tuple[str, ...]:
    """Return for whom a code was asked and not given yet."""
    names = {s.id: s.handle for s in staff(store)}
    with store.read() as session:
        wanted = select(P.staff_id).where(P.asked_at.is_not(None), P.asked_at <= now)
        return tuple(sorted(names[n] for n in session.scalars(wanted)))
