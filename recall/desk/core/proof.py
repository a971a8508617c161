"""Whether everybody signs in here, and who proved to be here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from recall.clock import Clock
from recall.config import Config
from recall.desk.core.staff_row import StaffRow
from recall.errors import Refused
from recall.records.database.plain import Ask, by_session

if TYPE_CHECKING:
    from recall.records.database.store import Store

_ONE = "SELECT staff_id FROM staff_password WHERE hash IS NOT NULL LIMIT 1"


class NotSignedIn(Refused):
    """Everybody signs in here, and nobody has."""


Proof = Callable[["Store", Clock], StaffRow]
"""Says who proved to be here, by the machine's own clock; refuses where nobody did."""


@dataclass(frozen=True)
class Way:
    """How somebody comes to the desk."""

    place: str = ""
    """From where: screen, command or job."""
    proof: Proof | None = None
    """Says who it is, where everybody signs in; otherwise it is not asked."""


BY_NAME = Way()
"""By a name, which is believed where nobody signs in."""


def signs_in(config: Config, store: Store) -> bool:
    """Return whether everybody signs in here.

    Where anybody has a password they do, whatever a configuration file says: another one is
    soon written.
    """
    if config.desk.sign_in:
        return True
    with store.read() as session:
        return has_passwords(by_session(session))


def has_passwords(ask: Ask) -> bool:
    """Return whether anybody has a password."""
    return bool(ask(_ONE, {}))


def proven(store: Store, clock: Clock, by: str | None, proof: Proof | None) -> StaffRow:
    """Return who proved to be here.

    Raises:
        NotSignedIn: nobody did.
        Refused: somebody else was named.
    """
    if proof is None:
        raise NotSignedIn("Nobody is signed in.", hint="Sign in first: recall sign-in HANDLE.")
    member = proof(store, clock)
    if by and by.strip() and by.strip().lower() != member.handle:
        raise Refused(
            f"{member.handle} is signed in, and {by} is not.",
            hint="Leave --by out, or let them sign in: recall sign-in.",
        )
    return member
