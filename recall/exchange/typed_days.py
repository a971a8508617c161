"""Days as people type them: 3/9, 3.9.26, +14, 2w, tue, tomorrow."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta

from recall.errors import InputError
from recall.schedule.calendar import say_day

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
WHEN = "15/9 10 or tue 2.15pm"
CALL_AT = "thu 3 or 15/9 10.30; a day alone will do"
HINT = "3/9, 3 Sep 2026, +14, 2w or tue"
NEAR = timedelta(days=183)
"""As far off as a day without a year may be: half a year, so that no slip becomes next year."""
EARLY = 7
"""Before this hour nobody is rung, and no appointment begins."""
_AHEAD = re.compile(r"\+?(\d{1,3})\s*(d|days?|w|weeks?)?")
_AT = re.compile(r"(.*?)(?:^|\s)(\d{1,2}(?:[.:h]\d{2})?\s*(?:[ap]\.?m?\.?)?)$")
_PARTS = re.compile(r"(\d{1,4})[\s./-]+([a-z]{3,9}|\d{1,2})(?:[\s./-]+(\d{4}|\d{2}))?")


def read_day(text: str, today: date, *, past: bool = False) -> date:
    """Return the day that somebody typed.

    A day without a year is the next one to come, or with `past` the last one that was. One to come
    that would be more than half a year off is asked for with its year.

    >>> read_day("3/9", date(2026, 9, 1)), read_day("2w", date(2026, 9, 1))
    (datetime.date(2026, 9, 3), datetime.date(2026, 9, 15))

    Raises:
        InputError: it can be read as no day, or needs its year.
    """
    words = text.strip().lower().rstrip(".")
    near = {"today": 0, "tomorrow": 1, "yesterday": -1}
    if words in near:
        return today + timedelta(days=near[words])
    if words[:3] in WEEKDAYS and words.isalpha():
        return _weekday(words, today, past)
    if (found := _AHEAD.fullmatch(words)) and (words[0] == "+" or found[2]):
        days = int(found[1]) * (7 if (found[2] or "d").startswith("w") else 1)
        return today + timedelta(days=-days if past else days)
    try:
        day, by_year = _parts(words, today, past)
    except ValueError:
        raise InputError(f"“{text.strip()}” is no day.", hint=f"Type it like {HINT}.") from None
    if not (by_year or past) and day - today > NEAR:
        far = f"{say_day(day)}, {(day - today).days // 7} weeks from now"
        hint = f"If that is meant, type the year as well: {day.day}/{day.month}/{day.year}."
        raise InputError(f"“{text.strip()}” would be {far}.", hint=hint)
    return day


def _weekday(words: str, today: date, past: bool) -> date:
    from dateutil.relativedelta import relativedelta, weekday

    named, way = weekday(WEEKDAYS.index(words[:3])), -1 if past else 1
    return today + relativedelta(days=way, weekday=named(way))


def _parts(words: str, today: date, past: bool) -> tuple[date, bool]:
    """Return the day, and whether its year was typed."""
    found = _PARTS.fullmatch(words)
    if found is None:
        raise ValueError(words)
    first, second, third = found.groups()
    if len(first) == 4:
        return date(int(first), _month(second), int(third or "")), True
    if third is None:
        return _nearest(int(first), _month(second), today, past), False
    year = int(third)
    if len(third) == 2:
        year += 2000 if not past or 2000 + year <= today.year else 1900
    return date(year, _month(second), int(first)), True


def _month(word: str) -> int:
    return int(word) if word.isdigit() else MONTHS.index(word[:3]) + 1


def _nearest(day: int, month: int, today: date, past: bool) -> date:
    """Return the day of this year, or of the year that puts it on the right side of today."""
    years = range(today.year, today.year + 9)
    if past:
        years = range(today.year, today.year - 9, -1)
    for year in years:
        try:
            found = date(year, month, day)
        except ValueError:
            continue
        if (found <= today) if past else (found >= today):
            return found
    raise ValueError(day, month)


def read_time(text: str) -> time:
    """Return the time that somebody typed.

    >>> read_time("9.30"), read_time("14"), read_time("2:15pm")
    (datetime.time(9, 30), datetime.time(14, 0), datetime.time(14, 15))

    Raises:
        InputError: it can be read as no time.
    """
    found = re.fullmatch(r"(\d{1,2})(?:[.:h ]?(\d{2}))?\s*([ap])?\.?m?\.?", text.strip().lower())
    try:
        if found is None:
            raise ValueError(text)
        hour, half = int(found[1]), found[3]
        if half:
            hour = hour % 12 + (12 if half == "p" else 0)
        return time(hour, int(found[2] or 0))
    except ValueError:
        raise InputError(
            f"“{text.strip()}” is no time.", hint="Type it like 9.30 or 14:15."
        ) from None


def read_hour(text: str) -> time:
    """Return the hour at which somebody is to be rung.

    >>> read_hour("3"), read_hour("10.30"), read_hour("15:00")
    (datetime.time(15, 0), datetime.time(10, 30), datetime.time(15, 0))

    Raises:
        InputError: it can be read as no time.
    """
    return _by_day(read_time(text), text.strip().lower())


def read_when(text: str, today: date, offered: date | None = None) -> datetime:
    """Return the day and time that somebody typed; a time alone is on the day that is offered.

    >>> read_when("15/9 10", date(2026, 9, 1))
    datetime.datetime(2026, 9, 15, 10, 0)
    >>> read_when("9.30", date(2026, 9, 1), offered=date(2026, 9, 2))
    datetime.datetime(2026, 9, 2, 9, 30)
    >>> read_when("thu 3", date(2026, 9, 1)), read_when("thu 3am", date(2026, 9, 1)).hour
    (datetime.datetime(2026, 9, 3, 15, 0), 3)

    Raises:
        InputError: the day or the time is missing, or cannot be read.
    """
    found = _AT.fullmatch(text.strip().lower())
    day = found[1].strip() if found else text
    if found is None:
        read_day(text, today)  # what is no day either is said to be none
        raise InputError("The time is missing.", hint=f"Type both, like {WHEN}.")
    at = _by_day(read_time(found[2]), found[2].strip())
    if not day and offered is None:
        raise InputError("The day is missing.", hint=f"Type both, like {WHEN}.")
    return datetime.combine(read_day(day, today) if day else offered or today, at)


def read_call_at(text: str, today: date) -> tuple[date, time | None]:
    """Return the day on which somebody is to be rung, with the hour where one was typed.

    >>> read_call_at("thu 3", date(2026, 9, 1)), read_call_at("2w", date(2026, 9, 1))
    ((datetime.date(2026, 9, 3), datetime.time(15, 0)), (datetime.date(2026, 9, 15), None))

    Raises:
        InputError: it can be read as neither.
    """
    try:
        return read_day(text, today), None
    except InputError:
        when = read_when(text, today, offered=today)
        return when.date(), when.time()


def _by_day(at: time, typed: str) -> time:
    """Return the hour that is meant: at a bare 3 somebody is rung, or comes, in the afternoon."""
    is_bare = 0 < at.hour < EARLY and not re.search("^0|[apm]", typed)
    return at.replace(hour=at.hour + 12) if is_bare else at
