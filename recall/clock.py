"""The only place that asks what time it is.

An instant is the machine's, always. A day may be given in the place of today: then something is
done *for* that day, and when it was done is still what the machine says.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

INVENTED = "RECALL_INVENTED_NOW"
"""The variable by which the maker of an invented practice gives it a past: a wall time, as in
2026-09-07T09:00. A register that was not begun with it is not opened with it."""


@dataclass(frozen=True)
class Clock:
    """The practice's clock: its time zone, and the day acted for where it is not today."""

    zone: str = "Europe/London"
    fixed: datetime | None = None
    """For tests and invented practices alone: an aware instant in the place of the machine's."""
    on: date | None = None
    """The day acted for, or None for the one that it is."""

    def now(self) -> datetime:
        """Return the present instant in UTC."""
        if self.fixed is not None:
            return self.fixed.astimezone(UTC)
        return self._invented() or datetime.now(UTC)

    def today(self) -> date:
        """Return the day acted for: the practice's local date where none was given."""
        return self.on or self.day_of(self.now())

    def has_begun(self, day: date) -> bool:
        """Return whether a day has come by the machine's own time."""
        return day <= self.day_of(self.now())

    def acting_for(self, day: date | None) -> Clock:
        """Return the same clock with a day in the place of today."""
        return replace(self, on=day)

    def held_at(self, instant: datetime) -> Clock:
        """Return the same clock held at an instant, for all that is written in one go."""
        return replace(self, fixed=instant, on=self.today())

    def reached(self) -> datetime:
        """Return how far the hours have come: to now, or to the end of an earlier day acted for."""
        if self.on is None:
            return self.now()
        end = self.local(datetime.combine(self.on, time.max)).astimezone(UTC)
        return min(self.now(), end)

    def day_of(self, instant: datetime) -> date:
        """Return the practice's local date at an instant."""
        return instant.astimezone(ZoneInfo(self.zone)).date()

    def days_late(self, on: date, recorded_at: datetime) -> int:
        """Return how many days after the day it was done for something was entered.

        >>> Clock().days_late(date(2026, 3, 2), datetime(2026, 3, 9, 12, tzinfo=UTC))
        7
        """
        return max(0, (self.day_of(recorded_at) - on).days)

    def has_come(self, day: date, at: time) -> bool:
        """Return whether an hour of the practice's wall clock has come, whatever was put forward.

        An hour that comes twice has come with the first; one that is left out, with the next.
        """
        return self.local(datetime.combine(day, at)).astimezone(UTC) <= self.now()

    def local(self, wall: datetime) -> datetime:
        """Return the instant that the practice's wall clock shows; an aware one stays as it is."""
        return wall if wall.tzinfo else wall.replace(tzinfo=ZoneInfo(self.zone))

    @classmethod
    def at(cls, on: date, zone: str = "Europe/London", hour: int = 9) -> Clock:
        """Return a clock that stands at `hour` o'clock local time on a day, for tests."""
        return cls(zone, datetime(on.year, on.month, on.day, hour, tzinfo=ZoneInfo(zone)))

    def _invented(self) -> datetime | None:
        wall = os.environ.get(INVENTED, "")
        return self.local(datetime.fromisoformat(wall)).astimezone(UTC) if wall else None


def is_invented() -> bool:
    """Return whether the time is made up for an invented practice."""
    return bool(os.environ.get(INVENTED))
