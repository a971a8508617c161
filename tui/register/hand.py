"""Until when this desk has somebody in hand: so it gives back its own claim and no other."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from threading import Lock


@dataclass
class Hand:
    """The claim of one opened desk; it is changed in the threads that ask the register."""

    until: datetime | None = None
    """None where nobody is in hand. No two desks claim at one instant, so it tells them apart."""
    lock: Lock = field(default_factory=Lock)
