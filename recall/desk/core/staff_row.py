"""Whoever acts, as the staff table has them.

Who may act is looked at before the first screen: by bare names, so that nothing waits for the
mapped tables; a test holds the names against those.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Date, Integer, String, column, select, table

from recall.desk.core.rights import Right, Role, has_right
from recall.errors import NotFound
from recall.records.database.store import Store

STAFF = table(
    "staff",
    column("id", Integer),
    column("handle", String),
    column("name", String),
    column("role", String),
    column("title", String),
    column("registration", String),
    column("site", String),
    column("left_on", Date),
)


@dataclass(frozen=True)
class StaffRow:
    """Somebody, or the jobs, who acts."""

    id: int
    handle: str
    name: str
    role: Role
    title: str = ""
    """What they sign with, such as their profession."""
    registration: str = ""
    """With whom and under which number they are registered, as their letters show it."""
    site: str = ""
    left_on: date | None = None

    @property
    def may_decide(self) -> bool:
        """Return whether what is clinically decided is theirs to decide."""
        return has_right(self.role, Right.DECIDE)


def staff(store: Store) -> tuple[StaffRow, ...]:
    """Return everybody on the staff table, the jobs included."""
    with store.read() as session:
        rows = session.execute(select(STAFF).order_by(STAFF.c.handle)).all()
    return tuple(
        StaffRow(
            row.id,
            row.handle,
            row.name,
            Role(row.role),
            row.title,
            row.registration,
            row.site,
            row.left_on,
        )
        for row in rows
    )


def staff_member(store: Store, handle: str, on: date) -> StaffRow:
    """Return one member of staff who has not left.

    Raises:
        NotFound: no such handle, or they have left.
    """
    known = {s.handle: s for s in staff(store)}
    found = known.get(handle.lower())
    if found is None:
        raise NotFound(
            f"There is no member of staff {handle!r}.", hint=f"It may be: {', '.join(known)}."
        )
    if found.left_on is not None and found.left_on <= on:
        raise NotFound(f"{handle} left on {found.left_on}.", hint="Name somebody who is here.")
    return found
