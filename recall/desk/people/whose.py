"""Whose something is, in one line: what every command says first, against mistaken people."""

from __future__ import annotations

from typing import Literal

from sqlalchemy import select

from recall.desk.core.guarding import needs
from recall.desk.core.named import named
from recall.desk.core.person_lookup import person_id
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import NotFound
from recall.records.tables import Booking, FollowUp, Referral

Table = Literal["follow-up", "appointment", "referral"]
_OWNER = {
    "follow-up": (FollowUp.person_id, FollowUp.id),
    "appointment": (Booking.person_id, Booking.id),
    "referral": (Referral.person_id, Referral.id),
}


@needs(Right.LOOK)
def whose(desk: Desk, ref: str) -> str:
    """Return name, birth date and reference of a person, in one line.

    Raises:
        NotFound: nobody has this reference.
    """
    with desk.store.read() as session:
        return named(session, person_id(session, ref))


@needs(Right.LOOK)
def whose_row(desk: Desk, table: Table, number: int) -> str:
    """Return name, birth date and reference of the person whom a row is about.

    Raises:
        NotFound: there is no such row.
    """
    owner, key = _OWNER[table]
    with desk.store.read() as session:
        found = session.scalars(select(owner).where(key == number)).first()
        if found is None:
            raise NotFound(f"There is no {table} {number}.", hint="Look: recall person card.")
        return named(session, found)
