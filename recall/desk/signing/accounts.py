"""Accounts of the operating system that are somebody's, so that they need no password here."""

from __future__ import annotations

import os
from datetime import UTC

from sqlalchemy import delete, insert, select

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right, Role
from recall.desk.core.session import Desk, StaffRow, staff, staff_member
from recall.desk.signing.passwords import note
from recall.errors import InputError, Refused
from recall.records import tables
from recall.records.database.store import Store
from recall.records.tables.statements import table_of

A = tables.StaffAccount


def account_now() -> str:
    """Return the account that runs this, by the system's word and no variable's."""
    try:
        import pwd
    except ImportError:  # no Unix: the system names it without asking the environment
        return os.getlogin()
    try:
        return pwd.getpwuid(os.geteuid()).pw_name
    except KeyError:
        return f"#{os.geteuid()}"


@needs(Right.KEEP_STAFF)
def bind(desk: Desk, handle: str, account: str) -> StaffRow:
    """Let an account of the operating system be somebody; "" lets it be nobody again.

    Raises:
        InputError: the account is somebody else's.
        Refused: it would let others decide about care, and whoever acts may not.
    """
    member = staff_member(desk.store, handle, desk.today)
    if member.may_decide and desk.by.id != member.id and desk.by.role is not Role.CLINICAL_LEAD:
        raise Refused(
            f"{desk.by.handle} may not let others decide.",
            hint=f"{member.handle} or a clinical lead binds it.",
        )
    jobs = {s.id for s in staff(desk.store) if s.role is Role.JOBS}
    with desk.store.write() as session:
        for other in session.scalars(select(A.staff_id).where(A.account == account)):
            if other != member.id and (other in jobs) == (member.id in jobs):
                raise InputError(
                    f"The account {account} is somebody else's here.", hint="Take it away first."
                )
        session.execute(delete(table_of(A)).where(A.staff_id == member.id))
        if account:
            now = desk.now.astimezone(UTC)
            values = {"account": account, "bound_at": now, "bound_by_id": desk.by.id}
            session.execute(insert(table_of(A)).values(staff_id=member.id, **values))
        says = f"bound the account {account}" if account else "bound no account any more"
        note(session, desk.clock, desk.by.id, member.id, f"{says}: {member.handle}")
    return member


def person_of(store: Store, account: str) -> int | None:
    """Return whose account it is, the jobs left out; None where nobody's."""
    return _of(store, account, jobs=False)


def is_the_jobs(store: Store, account: str) -> bool:
    """Return whether the jobs may run by this account."""
    return _of(store, account, jobs=True) is not None


def _of(store: Store, account: str, *, jobs: bool) -> int | None:
    s = tables.Staff
    wanted = select(A.staff_id).join(s, s.id == A.staff_id)
    wanted = wanted.where(A.account == account, s.is_job == jobs)
    with store.read() as session:
        return session.scalar(wanted.order_by(A.staff_id).limit(1))
