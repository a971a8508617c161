"""What a practice can do itself, from which day on.

The settings hold for visits from their own day on, and never for earlier ones: a history that is
gone through again under other settings would change what was asked and closed long ago.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import msgspec


class Able(msgspec.Struct, frozen=True, kw_only=True):
    """What a practice can do itself from one day on."""

    since: date = date.min
    audiometry_from_age: int = 0
    """The age in years from which it tests hearing."""
    tympanometry: bool = True
    suction: bool = True
    """Clearing and cleaning without water: suction or instruments, in view."""
    prescribing: bool = False
    """The one thing that has to be claimed: no rule asks it of the practice by itself."""
    removing_objects: bool = True


AS_WRITTEN = Able()
"""A practice that can do all that the rules ask of it: what holds where nothing is said."""


class Capabilities:
    """What a practice could do on each day of its history."""

    def __init__(self, periods: Iterable[Able] = ()) -> None:
        self.periods = tuple(sorted(periods, key=lambda able: able.since))

    def on(self, day: date) -> Able:
        """Return what the practice can do on a day."""
        held = AS_WRITTEN
        for able in self.periods:
            if able.since <= day:
                held = able
        return held


EVERYTHING = Capabilities()
"""All that the rules ask of the practice, on every day."""
