"""How much one write of a long run takes in: less on a slow machine, so that nobody waits long."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

LONG = 1.0
"""Seconds: a write that took longer than this is made smaller; a desk waits 5 for its turn."""
LEAST = 5


@dataclass
class Portion:
    """What is written at once of a long run; it follows how long the writes before took."""

    most: int
    now: int = 0

    def __post_init__(self) -> None:
        """Begin with the most."""
        self.now = self.now or self.most

    @contextmanager
    def one(self) -> Iterator[int]:
        """Give how much the next write may take in, and see how long that took."""
        began = time.monotonic()
        yield self.now
        self.fit(time.monotonic() - began)

    def fit(self, took: float) -> None:
        """Halve what is written at once after a long write, double it after a short one."""
        if took > LONG:
            self.now = max(min(LEAST, self.most), self.now // 2)
        elif took < LONG / 4:
            self.now = min(self.most, self.now * 2)
