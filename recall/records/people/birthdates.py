"""Reading a birth date as people say it at the desk: any usual order, and every day it can mean."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_DATE = re.compile(
    r"(?<![\w])(?:(?P<a>\d{1,4})[-/. ](?P<b>\d{1,2})[-/. ](?P<c>\d{1,4})"
    r"|(?P<run>\d{8})"
    r"|(?P<d>\d{1,2})(?:st|nd|rd|th)?[-/. ]?(?P<m>[a-z]{3})[a-z]*[-/., ]+(?P<y>\d{4}|\d{2})"
    r"|(?P<m2>[a-z]{3})[a-z]*[. ]+(?P<d2>\d{1,2})(?:st|nd|rd|th)?[, ]+(?P<y2>\d{4}|\d{2}))(?!\w)",
    re.IGNORECASE,
)


def birth_dates(text: str) -> tuple[tuple[date, ...], str]:
    """Return the days that a date in the text can mean, and the text without it.

    Day first is tried before month first; two-digit years can mean this century or the last.

    >>> birth_dates("ann 29/02/2008")
    ((datetime.date(2008, 2, 29),), 'ann ')
    >>> [d.isoformat() for d in birth_dates("3.4.1950")[0]]
    ['1950-04-03', '1950-03-04']
    """
    begin = 0
    while match := _DATE.search(text, begin):
        if days := tuple(dict.fromkeys(_days(match))):
            return days, text[: match.start()] + text[match.end() :]
        begin = match.start() + 1  # what is no date may hold the beginning of one
    return (), text


def _days(match: re.Match[str]) -> Iterator[date]:
    """Give every day of the calendar that a match can mean."""
    g = match.groupdict()
    for year, month, day in _orders(g):
        for full in _years(year):
            try:
                yield date(full, int(month), int(day))
            except ValueError:
                continue


def _orders(g: dict[str, str | None]) -> Iterator[tuple[str, int | str, str]]:
    """Give year, month and day in the orders that people write."""
    if run := g["run"]:
        yield run[4:], run[2:4], run[:2]
        yield run[:4], run[4:6], run[6:]
    elif g["a"] and g["b"] and g["c"]:
        a, b, c = g["a"], g["b"], g["c"]
        if len(a) > 2:
            yield a, b, c
        else:
            yield c, b, a
            yield c, a, b
    else:
        name = (g["m"] or g["m2"] or "").lower()
        if name in _MONTHS:
            yield g["y"] or g["y2"] or "", _MONTHS.index(name) + 1, g["d"] or g["d2"] or ""


def _years(year: str) -> tuple[int, ...]:
    if len(year) == 2:
        return 1900 + int(year), 2000 + int(year)
    return (int(year),) if len(year) == 4 else ()
