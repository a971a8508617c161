"""Whoever acts, as the staff table has them.

Who may act is looked at before the first screen, in plain SQL: nothing waits for more.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from recall.desk.core.rights import Right, Role, has_right
from recall.errors import NotFound, Refused
from recall.records.database.plain import Ask, by_session

if TYPE_CHECKING:
    from recall.records.database.store import Store

_STAFF = (
    "SELECT id, handle, name, role, title, registration, site, sites, left_on FROM staff"
    " ORDER BY handle"
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
    """Where they are, by the handle of a site; empty where the practice is one place."""
    sites: tuple[str, ...] = ()
    """The sites they work for, or `all`; empty: their own."""
    left_on: date | None = None

    @property
    def may_decide(self) -> bool:
        """Return whether what is clinically decided is theirs to decide."""
        return has_right(self.role, Right.DECIDE)


def everybody(ask: Ask) -> tuple[StaffRow, ...]:
    """Return everybody on the staff table, the jobs included."""
    return tuple(_row(*values) for values in ask(_STAFF, {}))


def _row(number: int, handle: str, name: str, role: str, *more: str | None) -> StaffRow:
    title, registration, site, sites, left = more
    left_on = date.fromisoformat(left) if left else None
    signs = title or "", registration or "", site or ""
    worked_for = tuple(filter(None, (sites or "").split(",")))
    return StaffRow(number, handle, name, Role(role), *signs, worked_for, left_on)


def staff(store: Store) -> tuple[StaffRow, ...]:
    """Return everybody on the staff table of an open register, the jobs included."""
    with store.read() as session:
        return everybody(by_session(session))


def who_examine(store: Store, on: date) -> tuple[StaffRow, ...]:
    """Return who may see somebody at an appointment: they examine ears, and have not left."""
    here = (one for one in staff(store) if one.left_on is None or one.left_on > on)
    return tuple(one for one in here if one.may_decide)


def staff_member(store: Store, handle: str, on: date) -> StaffRow:
    """Return one member of staff who has not left.

    Raises:
        NotFound: no such handle, or they have left.
    """
    return member_among(staff(store), handle, on)


def member_among(members: Iterable[StaffRow], handle: str, on: date) -> StaffRow:
    """Return the one of a handle who has not left.

    Raises:
        NotFound: no such handle, or they have left.
    """
    known = {s.handle: s for s in members}
    found = known.get(handle.lower())
    if found is None:
        raise NotFound(
            f"There is no member of staff {handle!r}.", hint=f"It may be: {', '.join(known)}."
        )
    if found.left_on is not None and found.left_on <= on:
        raise NotFound(f"{handle} left on {found.left_on}.", hint="Name somebody who is here.")
    return found


def works_here(member: StaffRow) -> StaffRow:
    """Return a member of staff who is a person; the jobs have a row, and sit at no desk.

    Raises:
        Refused: it is the row that the jobs act as.
    """
    if member.role is Role.JOBS:
        raise Refused(
            f"{member.handle} is the name of the jobs, and nobody works at the desk under it.",
            hint="Give your own: recall staff list shows who is here.",
        )
    return member
