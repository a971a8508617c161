"""Somebody who acts, as the staff table has them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from recall.desk.core.rights import Right, Role, has_right


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
