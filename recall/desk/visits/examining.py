"""Who examined at a visit: whoever closes it, asked where somebody else began it."""

from __future__ import annotations

from dataclasses import dataclass

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk, StaffRow, staff


@dataclass(frozen=True)
class Examined:
    """Who examined as far as it is known, and between whom it is to be asked."""

    by: str | None
    """Their handle; None where nobody is recorded."""
    ask: tuple[StaffRow, ...] = ()
    """Who may have, whoever closes the visit first; nobody where there is nothing to ask."""


@needs(Right.LOOK)
def examined(desk: Desk, began_by: str) -> Examined:
    """Return who examined at a visit that somebody began, and that whoever acts would close.

    Only somebody who may decide is taken to have examined.
    """
    began = {each.handle: each for each in staff(desk.store)}.get(began_by)
    able = [each for each in (desk.by, began) if each is not None and each.may_decide]
    if began_by in ("", desk.by.handle):
        return Examined(able[0].handle if able else None)
    return Examined(None, tuple(able))
