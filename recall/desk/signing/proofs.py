"""Who acts where everybody signs in: the proofs that opening a desk asks for."""

from __future__ import annotations

from datetime import timedelta

from recall.clock import Clock
from recall.desk.core.guarding import needs
from recall.desk.core.proof import NotSignedIn, Proof
from recall.desk.core.rights import Right
from recall.desk.core.session import JOBS, Desk, StaffRow, staff
from recall.desk.signing.accounts import account_now, is_the_jobs, person_of
from recall.desk.signing.passwords import prove
from recall.desk.signing.sessions import whose
from recall.errors import Refused
from recall.records.database.store import Store

SIGN_IN = "Sign in first: recall sign-in HANDLE."
NOBODY_IN = "Nobody is signed in."


def by_password(handle: str, password: str) -> Proof:
    """Return the proof of somebody who types their password."""
    return lambda store, clock: prove(store, clock, handle, password)


@needs(Right.LOOK)
def proven_at(desk: Desk, handle: str, password: str) -> Desk:
    """Return an open desk with somebody else acting, who proved it by their password."""
    return desk.acting_for(prove(desk.store, Clock(desk.clock.zone), handle, password))


def by_session(token: str | None, idle: timedelta) -> Proof:
    """Return the proof of whoever runs a plain command: their session, or else their account."""

    def proved(store: Store, clock: Clock) -> StaffRow:
        found = whose(store, clock, token, idle) if token else None
        found = found if found is not None else person_of(store, account_now())
        for each in staff(store):
            gone = each.left_on is not None and each.left_on <= clock.today()
            if each.id == found and not gone:
                return each
        raise NotSignedIn(NOBODY_IN if not token else "Your session has ended.", hint=SIGN_IN)

    return proved


def by_jobs_account(store: Store, clock: Clock) -> StaffRow:
    """Return the jobs, where the account that runs this is theirs; it is a proof itself.

    Raises:
        Refused: it is not.
    """
    account = account_now()
    if not is_the_jobs(store, account):
        raise Refused(
            f"The account {account} is not the jobs'.",
            hint=f"Bind it once: recall staff account {JOBS} {account}.",
        )
    return next(each for each in staff(store) if each.handle == JOBS)
