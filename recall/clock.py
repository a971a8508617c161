"""The only place that asks what time it is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo


@dataclass(frozen=True)
class Clock:
    """The practice's clock: its time zone, and a fixed day where one was asked for."""

    zone: str = "Europe/London"
    fixed: datetime | None = None
    """An aware instant that the clock stands at, or None for the machine's own."""

    def now(self) -> datetime:
        """Return the present instant in UTC."""
        return self.fixed.astimezone(UTC) if self.fixed else datetime.now(UTC)

    def today(self) -> date:
        """Return the practice's local date."""
        return self.day_of(self.now())

    def day_of(self, instant: datetime) -> date:
        """Return the practice's local date at an instant."""
        return instant.astimezone(ZoneInfo(self.zone)).date()

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
        """Return a clock that stands at `hour` o'clock local time on a day."""
        return cls(zone, datetime(on.year, on.month, on.day, hour, tzinfo=ZoneInfo(zone)))
