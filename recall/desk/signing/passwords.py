"""Proving who one is by a password, and setting one: by the old one, by a code, or as the first.

Every try is counted before it is looked at, in a transaction of its own: a program that is
killed in between has still tried, and two at once do not share one try.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import delete, insert, select, update
from sqlalchemy.orm import Session

from recall.clock import Clock
from recall.desk.core.rights import Right, has_right
from recall.desk.core.session import StaffRow, staff
from recall.desk.signing.hashing import fits, hashed, is_digest_of, is_outdated
from recall.desk.signing.password_rule import check_password
from recall.desk.signing.waiting import say_wait, still_to_wait, wait_after
from recall.errors import Refused
from recall.records import tables
from recall.records.database.store import Store
from recall.records.journal import history
from recall.records.tables.statements import table_of, whole

WRONG = "The handle or the password is not right."
FORGOTTEN = "Where it is forgotten, the manager or two colleagues give a code."
P = tables.StaffPassword


@dataclass(frozen=True)
class Kept:
    """What is kept of how somebody proves who they are."""

    hash: str | None
    tries: int
    wait_until: datetime | None


NOTHING = Kept(None, 0, None)
NO_ASK: dict[str, object] = {"asked_at": None, "asked_by_id": None}
"""Nobody waits for a second person's yes: whoever signs in has not forgotten."""


def prove(store: Store, clock: Clock, handle: str, password: str) -> StaffRow:
    """Return who proved to be here by their password.

    Raises:
        Refused: handle or password is wrong, or it is too soon after wrong ones.
    """
    member = here(store, clock, handle)
    kept = _count_try(store, clock, member) if member else NOTHING
    if not fits(kept.hash, password) or member is None or kept.hash is None:
        wait = wait_after(kept.tries + 1)
        raise Refused(WRONG, hint=f"The next try is in {say_wait(wait)}." if wait else FORGOTTEN)
    values: dict[str, object] = {"tries": 0, "wait_until": None, **NO_ASK}
    if is_outdated(kept.hash):
        values["hash"] = hashed(password)
    with store.write() as session:
        _set(session, member.id, values)
    return member


def set_password(
    store: Store, clock: Clock, handle: str, old: str, new: str, *, place: str = ""
) -> StaffRow:
    """Set somebody's password, proved by the old one or by a code; their sessions end.

    `place` is the practice's name, which is no password.

    Raises:
        InputError: the new one cannot be taken.
        Refused: what was given as the old one or the code is wrong.
    """
    member = here(store, clock, handle)
    given_by = _by_code(store, clock, member, old) if member else None
    if given_by is None:
        member = prove(store, clock, handle, old)
    assert member is not None
    check_password(new, (member.handle, member.name, place))
    _keep(store, clock, member, hashed(new), given_by or member.id)
    return member


def set_first(store: Store, clock: Clock, handle: str, new: str, *, place: str = "") -> StaffRow:
    """Set the very first password of a register, by the account that owns it.

    Raises:
        InputError: the new one cannot be taken.
        Refused: somebody has one already, or this is nobody who may take staff on.
    """
    member = here(store, clock, handle)
    if anybody_has_one(store) or member is None or not has_right(member.role, Right.KEEP_STAFF):
        raise Refused(
            "The first password of a register is that of a clinical lead or the manager.",
            hint="Others are let in by a code: recall staff code HANDLE.",
        )
    check_password(new, (member.handle, member.name, place))
    _keep(store, clock, member, hashed(new), member.id)
    return member


def take_all_away(store: Store, clock: Clock, by: StaffRow) -> None:
    """Take every password, code, session and bound account away; the history says by whom."""
    now = clock.now().astimezone(UTC)
    with store.write() as session:
        blank = {"hash": None, "code_digest": None, "tries": 0, "wait_until": None, **NO_ASK}
        session.execute(update(table_of(P)).values(**blank))
        session.execute(delete(table_of(tables.StaffAccount)))
        _end_sessions(session, None, now)
        note(session, clock, by.id, by.id, "took every password away: nobody signs in")


def anybody_has_one(store: Store) -> bool:
    """Return whether anybody has a password: from then on everybody signs in."""
    with store.read() as session:
        wanted = select(P.staff_id).where(P.hash.is_not(None)).limit(1)
        return session.scalar(wanted) is not None


def has_one(store: Store, member: StaffRow) -> bool:
    """Return whether somebody has a password."""
    with store.read() as session:
        return session.scalar(select(P.hash).where(P.staff_id == member.id)) is not None


def here(store: Store, clock: Clock, handle: str) -> StaffRow | None:
    """Return somebody who works here today; the jobs prove nothing by a password."""
    wanted = handle.strip().lower()
    for each in staff(store):
        if each.handle == wanted and each.role != "jobs":
            gone = each.left_on is not None and each.left_on <= clock.today()
            return None if gone else each
    return None


def note(session: Session, clock: Clock, by: int, about: int, says: str) -> None:
    """Write a line of history about how somebody signs in; never a secret."""
    at = clock.now().astimezone(UTC)
    history.append(session, by, at, "noted", "staff", about, now=says)


def row_for(session: Session, staff_id: int) -> tables.StaffPassword:
    """Return somebody's row, made where there is none."""
    found = session.scalars(select(whole(P)).where(P.staff_id == staff_id)).one_or_none()
    if found is None:
        session.execute(insert(table_of(P)).values(staff_id=staff_id, tries=0))
        found = session.scalars(select(whole(P)).where(P.staff_id == staff_id)).one()
    return found


def _count_try(store: Store, clock: Clock, member: StaffRow) -> Kept:
    """Count a try before it is looked at; return what was kept before it."""
    now = clock.now().astimezone(UTC)
    with store.write() as session:
        row = row_for(session, member.id)
        kept = Kept(row.hash, row.tries, row.wait_until)
        wait = still_to_wait(kept.wait_until, kept.tries, now)
        if wait:
            raise Refused(
                f"{kept.tries} wrong passwords in a row were given for {member.handle}.",
                hint=f"The next try is in {say_wait(wait)}; others sign in meanwhile.",
            )
        tries = kept.tries + 1
        _set(session, member.id, {"tries": tries, "wait_until": now + wait_after(tries)})
    return kept


def _by_code(store: Store, clock: Clock, member: StaffRow, code: str) -> int | None:
    """Return who gave the code, where it is the right one and not too old."""
    with store.read() as session:
        wanted = select(P.code_digest, P.code_until, P.code_by_id).where(P.staff_id == member.id)
        found = session.execute(wanted).one_or_none()
    if found is None or found.code_until is None or found.code_until < clock.now():
        return None
    is_it = is_digest_of(found.code_digest, plain_code(code))
    return found.code_by_id if is_it else None


def plain_code(code: str) -> str:
    """Return a code as it is compared: without the gaps that make it readable."""
    return "".join(ch for ch in code.upper() if ch.isalnum())


def _keep(store: Store, clock: Clock, member: StaffRow, kept: str, by: int) -> None:
    now = clock.now().astimezone(UTC)
    values = {"hash": kept, "set_at": now, "set_by_id": by, "tries": 0, "wait_until": None}
    gone = {"code_digest": None, "code_until": None, "code_by_id": None, **NO_ASK}
    with store.write() as session:
        row_for(session, member.id)
        _set(session, member.id, {**values, **gone})
        _end_sessions(session, member.id, now)
        note(session, clock, member.id, member.id, "set a password")


def _set(session: Session, staff_id: int, values: dict[str, object]) -> None:
    session.execute(update(table_of(P)).where(P.staff_id == staff_id).values(**values))


def _end_sessions(session: Session, staff_id: int | None, now: datetime) -> None:
    s = tables.SignedIn
    wanted = update(table_of(s)).where(s.ended_at.is_(None)).values(ended_at=now)
    session.execute(wanted if staff_id is None else wanted.where(s.staff_id == staff_id))
