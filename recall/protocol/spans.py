"""Spans of time and ranges as a protocol writes them: "6 weeks", "under 12 weeks", "2 or more"."""

from __future__ import annotations

import re
from datetime import date, timedelta
from math import inf

import msgspec

from recall.care.dates import add
from recall.errors import ProtocolError

_SPAN = re.compile(r"^(\d+) (year|month|week|day|working day)s?$")
_NUMBER = r"(\d+(?:\.\d+)?)"
_UNIT = r"(?: (years?|months?|weeks?|days?|dB))?"
_FORMS = (
    ("under", re.compile(rf"^under {_NUMBER}{_UNIT}$")),
    ("within", re.compile(rf"^within {_NUMBER}{_UNIT}$")),
    ("over", re.compile(rf"^over {_NUMBER}{_UNIT}$")),
    ("from", re.compile(rf"^{_NUMBER}{_UNIT} or (?:more|over|worse)$")),
    ("between", re.compile(rf"^{_NUMBER} to {_NUMBER}{_UNIT}$")),
    ("exactly", re.compile(rf"^exactly {_NUMBER}{_UNIT}$")),
)


class Span(msgspec.Struct, frozen=True):
    """A length of time in one unit of the calendar; working days are Monday to Friday."""

    count: int
    unit: str

    def after(self, anchor: date) -> date:
        """Return the day so long after `anchor`."""
        if self.unit == "days":
            return anchor + timedelta(days=self.count)
        if self.unit == "weeks":
            return anchor + timedelta(days=7 * self.count)
        if self.unit == "months":
            return add(anchor, months=self.count)
        if self.unit == "years":
            return add(anchor, years=self.count)
        for _ in range(self.count):
            anchor += timedelta(days=max(1, 7 - anchor.weekday()) if anchor.weekday() > 3 else 1)
        return anchor

    def __str__(self) -> str:
        return f"{self.count} {self.unit[:-1] if self.count == 1 else self.unit}"


def span(text: str) -> Span:
    """Read a span.

    >>> span("6 weeks").after(date(2026, 9, 1))
    datetime.date(2026, 10, 13)
    """
    found = _SPAN.match(text)
    if not found:
        raise ProtocolError(
            f"{text!r} is not a length of time.", hint='Write it like "6 weeks" or "10 days".'
        )
    return Span(int(found[1]), found[2] + "s")


class Range(msgspec.Struct, frozen=True):
    """A range of a number, or of a length of time in one unit.

    `low` is included, `high` is not. Weeks are held as days; months and years are counted
    on the calendar, so they can only be "under" or "or more". `never` also lets through
    what has not happened; "never" alone lets through nothing else.
    """

    text: str
    unit: str
    low: float | None = None
    high: float | None = None
    never: bool = False

    def holds(self, value: float) -> bool:
        """Return whether a number lies inside."""
        return (self.low is None or value >= self.low) and (self.high is None or value < self.high)

    def holds_between(self, start: date, end: date) -> bool:
        """Return whether the time from `start` to `end` lies inside, in this range's unit."""
        if self.unit == "days":
            return self.holds((end - start).days)
        if self.low is not None and Span(int(self.low), self.unit).after(start) > end:
            return False
        return self.high is None or Span(int(self.high), self.unit).after(start) > end

    def starts_on(self, start: date) -> date | None:
        """Return the first day on which the time since `start` lies inside."""
        if self.low is None:
            return start
        if self.low == inf:
            return None
        return Span(int(self.low), self.unit).after(start)


def _plural(unit: str | None) -> str:
    """Return the unit's own name, or "number" where none was written."""
    if not unit or unit == "dB":
        return unit or "number"
    return unit if unit.endswith("s") else unit + "s"


def read_range(text: str) -> Range:
    """Read a range.

    >>> read_range("4 to 90 days").holds(90), read_range("over 30 days").holds(30)
    (True, False)
    """
    if text == "never":
        return Range(text, "days", low=inf, never=True)
    never = text.endswith(" or never")
    body = text.removesuffix(" or never")
    for form, pattern in _FORMS:
        found = pattern.match(body)
        if not found:
            continue
        unit = _plural(found.groups()[-1])
        numbers = [float(n) for n in found.groups() if n and n[0].isdigit()]
        if unit == "weeks":
            unit, numbers = "days", [7 * n for n in numbers]
        if unit in ("months", "years") and form not in ("under", "from"):
            break
        low, high = _limits(form, numbers)
        return Range(text, unit, low, high, never)
    raise ProtocolError(
        f"{text!r} is not a range.",
        hint='Write it like "under 12 weeks", "12 weeks or more", "4 to 90 days" or "2 or more".',
    )


def _limits(form: str, numbers: list[float]) -> tuple[float | None, float | None]:
    """Return the included low and the excluded high limit of a written range."""
    first, last = numbers[0], numbers[-1]
    return {
        "under": (None, first),
        "within": (None, first + 1),
        "over": (first + 1, None),
        "from": (first, None),
        "between": (first, last + 1),
        "exactly": (first, first + 1),
    }[form]
