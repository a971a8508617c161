"""When something that was told began, and over how long it came on."""

from __future__ import annotations

from datetime import date, timedelta
from typing import NamedTuple

LATELY = timedelta(weeks=4)
"""How old a cold or a flight may be that still explains what is found: NHS Tayside and Devon look
again at fluid that came with one, and refer it over four weeks."""


class Onset(NamedTuple):
    """When something that was reported began, and over how many days it came on."""

    since: date | None = None
    """The earliest day it can mean."""
    surely_since: date | None = None
    """The latest day it can mean: what a vague date is sure of."""
    onset_days: int | None = None
    sure_onset_days: int | None = None
    """None where any report of the word leaves it open."""

    def is_lately(self, on: date) -> bool:
        """Return whether it has no day, or began at most four weeks ago, the earliest it can."""
        return self.since is None or on - self.since <= LATELY

    def strictest(self, other: Onset) -> Onset:
        """Return what two reports of one word come to: each the way that asks for more."""
        sure = [d for d in (self.surely_since, other.surely_since) if d is not None]
        onsets = [d for d in (self.onset_days, other.onset_days) if d is not None]
        both = None not in (self.sure_onset_days, other.sure_onset_days)
        return Onset(
            min(filter(None, (self.since, other.since)), default=None),
            max(sure) if len(sure) == 2 else None,
            min(onsets, default=None),
            min(onsets) if both else None,
        )
