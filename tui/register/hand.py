"""Until when this desk has somebody in hand: so it knows its own claim from every other."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from threading import Lock
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from recall.desk.core.session import Desk


KEPT = timedelta(minutes=10)
"""So long a claim that has run out is still known as this desk's: a list may show it so long."""


@dataclass
class Hand:
    """The claim of one opened desk; it is changed in the threads that ask the register."""

    until: datetime | None = None
    """None where nobody is in hand. No two desks claim at one instant, so it tells them apart."""
    mine: list[datetime] = field(default_factory=list)
    """What tells this desk's claims from others under its name: until when each was or will be
    made. One list for good, which whoever asks the register meanwhile reads as it is by then."""
    lock: Lock = field(default_factory=Lock)

    def will_claim(self, at: datetime, until: datetime) -> None:
        """Know a claim before it is stored: whoever reads it then finds it this desk's."""
        self.mine[:] = [*(one for one in self.mine if one > at - KEPT), until]

    def give_back(self, desk: Desk) -> None:
        """Give back whoever is in hand, under the name that took them."""
        from recall.desk.contacts import contacting

        with self.lock:
            if self.until is not None:
                contacting.give_all_back(desk, self.until)
            self.until = None
