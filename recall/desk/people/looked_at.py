"""Who looked at somebody's record: told to the person on request."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select

from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_id
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.records import tables


@dataclass(frozen=True)
class Look:
    """One look at one person's record."""

    at: datetime
    by: str
    name: str
    role: str
    place: str


@needs(Right.SEE_LOOKS)
def who_looked(desk: Desk, ref: str) -> tuple[Look, ...]:
    """Return who opened somebody's record, when and from where, oldest first.

    Raises:
        NotFound: no such reference.
    """
    looked, s = tables.Looked, tables.Staff
    with desk.store.read() as session:
        wanted = (
            select(looked.at, s.handle, s.name, s.role, looked.place)
            .join(s, s.id == looked.by_id)
            .where(looked.person_id == person_id(session, ref))
            .order_by(looked.at, looked.id)
        )
        return tuple(Look(*row) for row in session.execute(wanted))
