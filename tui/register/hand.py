"""Until when this desk has somebody in hand: so it gives back its own claim and no other."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from threading import Lock
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from recall.desk.core.session import Desk


@dataclass
class Hand:
    """The claim of one opened desk; it is changed in the threads that ask the register."""

    until: datetime | None = None
    """None where nobody is in hand. No two desks claim at one instant, so it tells them apart."""
    lock: Lock = field(default_factory=Lock)

    @property
    def mine(self) -> tuple[datetime, ...]:
        """Return what tells this desk's claim from others under its name."""
        return () if self.until is None else (self.until,)

    def give_back(self, desk: Desk) -> None:
        """Give back whoever is in hand, under the name that took them."""
        from recall.desk.contacts import contacting

        with self.lock:
            if self.until is not None:
                contacting.give_all_back(desk, self.until)
            self.until = None
