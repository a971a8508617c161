"""The practice's calendar: which days are open, and which open day to offer inside a window.

Public holidays are data, made at the edge. Clinical dates are never shifted: `offer` only
says which open day to propose, in which direction it lies from the target, and why.
"""

from __future__ import annotations

from datetime import date, timedelta

import msgspec

_DAY = timedelta(days=1)
_FAR = 400
"""Days to look for an open one before saying that there is none."""
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
# fmt: off
_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)
# fmt: on


def say_day(day: date, *, weekday: bool = False) -> str:
    """Return a day in words, the same on every machine.

    >>> say_day(date(2026, 10, 3)), say_day(date(2026, 10, 3), weekday=True)
    ('3 October 2026', 'Saturday 3 October 2026')
    """
    words = f"{day.day} {_MONTHS[day.month - 1]} {day.year}"
    return f"{WEEKDAYS[day.weekday()]} {words}" if weekday else words


class Offer(msgspec.Struct, frozen=True, kw_only=True):
    """The open day to propose, or the nearest ones on both sides of a window that has none."""

    on: date | None
    because: str
    before: date | None = None
    after: date | None = None


class Calendar(msgspec.Struct, frozen=True, kw_only=True):
    """When the practice is open."""

    weekdays: frozenset[int] = frozenset({0, 1, 2, 3, 4})
    """Open days of the week, Monday is 0."""
    holidays: dict[date, str] = {}
    """Public holidays by day, with their name."""
    closures: dict[date, str] = {}
    """Days on which the practice itself is closed, with why."""
    extra_open: frozenset[date] = frozenset()
    """Days that are open although the weekday or a public holiday says otherwise."""

    def closed_because(self, day: date) -> str | None:
        """Return why the practice is closed on a day, or None where it is open."""
        if day in self.closures:
            return self.closures[day] or "the practice is closed"
        if day in self.extra_open:
            return None
        if day in self.holidays:
            return self.holidays[day] or "public holiday"
        if day.weekday() not in self.weekdays:
            return f"not open on a {WEEKDAYS[day.weekday()]}"
        return None

    def is_open(self, day: date) -> bool:
        """Say whether the practice is open on a day."""
        return self.closed_because(day) is None

    def open_days(self, first: date, last: date) -> tuple[date, ...]:
        """Return the open days between two days, both included, in order."""
        days = map(date.fromordinal, range(first.toordinal(), last.toordinal() + 1))
        return tuple(filter(self.is_open, days))

    def open_from(self, day: date) -> date | None:
        """Return the first open day on or after a day; None where none comes within a year."""
        return self._seek(day, _DAY)

    def open_until(self, day: date) -> date | None:
        """Return the last open day on or before a day; None where none was within a year."""
        return self._seek(day, -_DAY)

    def working_days_after(self, day: date, count: int) -> date:
        """Return the day that lies so many open days after `day`, for stages and next-day checks.

        A practice that never opens is treated as open every day, so that nothing waits for ever.
        """
        for _ in range(count):
            following = day + _DAY
            day = self.open_from(following) or following
        return day

    def offer(
        self, earliest: date, target: date, latest: date, *, not_before: date | None = None
    ) -> Offer:
        """Return the open day nearest to the target inside the window.

        Of two equally near the earlier is taken. `not_before` keeps days that have
        gone by from being offered; the window itself stays as it is.
        """
        first = max(earliest, not_before) if not_before else earliest
        if first > latest:
            return self._outside(first, latest, f"The window ended on {say_day(latest)}.")
        aim = min(max(target, first), latest)
        for gap in range((latest - first).days + 1):
            for day in (aim - gap * _DAY, aim + gap * _DAY):
                if first <= day <= latest and self.is_open(day):
                    return Offer(on=day, because=self._why(day, target, aim))
        closed = f"No open day lies between {say_day(first)} and {say_day(latest)}."
        return self._outside(first, latest, closed)

    def _seek(self, day: date, step: timedelta) -> date | None:
        """Return the first open day from `day` in one direction."""
        for _ in range(_FAR):
            if self.is_open(day):
                return day
            day += step
        return None

    def _why(self, day: date, target: date, aim: date) -> str:
        """Say why this day is offered and on which side of the target it lies."""
        if day == target:
            return f"{say_day(day, weekday=True)} is the target and an open day."
        way = "before" if day < target else "after"
        days = abs((day - target).days)
        count = "1 day" if days == 1 else f"{days} days"
        reason = self.closed_because(target) if aim == target else "that day has gone by"
        return (
            f"{say_day(day, weekday=True)} is the nearest open day, {count} {way} the target of "
            f"{say_day(target, weekday=True)} ({reason})."
        )

    def _outside(self, first: date, latest: date, problem: str) -> Offer:
        """Return no day, with the nearest open ones on both sides for a person to choose."""
        gone = first > latest
        before = None if gone else self.open_until(first - _DAY)
        after = self.open_from(first if gone else latest + _DAY)
        sides = [say_day(d, weekday=True) for d in (before, after) if d]
        near = f" Nearest open: {' or '.join(sides)}." if sides else " The practice never opens."
        return Offer(on=None, before=before, after=after, because=problem + near)
