"""Whom a field of a sheet may name: asked of the register while the sheet is there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.words.text import plain

if TYPE_CHECKING:
    from recall.desk.core.session import Desk


def handles(desk: Desk) -> str:
    """Return the handles of those who see people, in a row."""
    from recall.desk.core.session import who_examine

    return ", ".join(plain(one.handle) for one in who_examine(desk.store, desk.today))


def know(desk: Desk, *, given: str, roles: bool) -> None:
    """Refuse a name that nobody here has; a role will do where one may be named."""
    from recall.desk.core.session import staff_member
    from recall.desk.practice.matters import owner_of

    if roles:
        owner_of(desk, given)
    else:
        staff_member(desk.store, given, desk.today)
