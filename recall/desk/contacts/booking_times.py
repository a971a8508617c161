"""Which times an appointment may begin at, whoever it is for."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from recall.errors import InputError, Refused
from recall.schedule.calendar import Calendar, say_day

FROM, UNTIL = time(7), time(21)
"""Between these appointments begin: common practice, no source found."""


def check_time(calendar: Calendar, zone: str, starts: datetime, minutes: int) -> None:
    """Refuse a time that is none: in another zone, skipped, at night, closed, of no length.

    Night is before 07:00 or after 21:00: common practice, no source found.
    """
    if starts.tzinfo is not None:
        raise InputError(
            "A booking is in the practice's own wall time.", hint="Leave the zone out."
        )
    if not 0 < minutes <= 480:
        raise InputError(f"{minutes} minutes is no length for an appointment.")
    there = starts.replace(tzinfo=ZoneInfo(zone))
    if there.astimezone(UTC).astimezone(ZoneInfo(zone)).replace(tzinfo=None) != starts:
        raise Refused(f"{starts} does not exist: the clocks change.", hint="Choose another time.")
    if not is_by_day(starts.time()):
        raise Refused(f"{starts:%H:%M} is at night.", hint=_instead(starts))
    closed = calendar.closed_because(starts.date())
    if closed:
        raise Refused(
            f"{say_day(starts.date(), weekday=True)}: {closed}.",
            hint="Choose an open day.",
        )


def is_by_day(at: time) -> bool:
    """Return whether an appointment may begin at this time: common practice, no source found."""
    return FROM <= at <= UNTIL


def _instead(starts: datetime) -> str:
    later = starts + timedelta(hours=12)
    if starts.hour < 12 and is_by_day(later.time()):
        return f"For the afternoon type {later:%H:%M}."
    return f"Choose a time from {FROM:%H:%M} to {UNTIL:%H:%M}."
