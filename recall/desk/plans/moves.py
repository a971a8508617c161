"""What another protocol would make of one line that is open: other days, or nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Move:
    """One open ask that another protocol would date otherwise."""

    person_id: int
    reference: str
    ear: str
    track: str
    rule: str
    latest: date | None
    """None: it would be asked anew."""
    window: tuple[date, date, date] | None
    """Where it would lie; None: it would not be asked."""
    kind: str = "recheck"
    """`refer` for a referral; otherwise the kind of the due."""

    @property
    def days(self) -> int:
        """Return by how much it moves: later is more, earlier is less."""
        if self.latest is None or self.window is None:
            return 0
        return (self.window[2] - self.latest).days
