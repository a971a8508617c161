"""Days as people type them: 3/9, 3.9.26, +14, 2w, tue, next tue, thursday at three, tomorrow."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta

from recall.errors import InputError
from recall.exchange.spoken_days import DAYS, short_form
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
_NAMED = re.compile(rf"(?:(next|last) )?({DAYS})( week)?")
_WITH_DATE = re.compile(rf"({DAYS}) (\d{{1,4}}(?:(?:st|nd|rd|th)|[\s./-].*))")
_OF_MONTH = re.compile(r"(\d{1,2})(?:st|nd|rd|th)")
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
    words = short_form(text)
    words = words.removesuffix(" ago") if past else words
    near = {"today": 0, "tomorrow": 1, "yesterday": -1}
    if words in near:
        return today + timedelta(days=near[words])
    if (named := _NAMED.fullmatch(words)) and named[1] != ("next" if past else "last"):
        return _weekday(named, today, past)
    if found := _WITH_DATE.fullmatch(words):
        return _agreeing(found, today, past)
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


def _weekday(found: re.Match[str], today: date, past: bool) -> date:
    """Return a day of the week: “next” is of next week, from Monday on; “thursday week” a week on.

    Of two meanings of “next” this is the later one; what was typed is said back with its date.
    """
    from dateutil.relativedelta import MO, relativedelta, weekday

    place, way = WEEKDAYS.index(found[2][:3]), -1 if past else 1
    if found[1] == "next":
        return today + relativedelta(days=1, weekday=MO(1)) + timedelta(days=place)
    day = today + relativedelta(days=way, weekday=weekday(place)(way))
    return day + timedelta(weeks=way if found[3] else 0)


def _agreeing(found: re.Match[str], today: date, past: bool) -> date:
    """Return a date that was typed with its day of the week.

    Raises:
        InputError: it is another day of the week.
    """
    day = read_day(found[2], today, past=past)
    if day.weekday() != WEEKDAYS.index(found[1][:3]):
        raise InputError(f"{say_day(day)} is a {day:%A}.", hint="Put the day or the date right.")
    return day


def _parts(words: str, today: date, past: bool) -> tuple[date, bool]:
    """Return the day, and whether its year was typed."""
    if alone := _OF_MONTH.fullmatch(words):
        return _of_month(int(alone[1]), today, past), True
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


def _of_month(number: int, today: date, past: bool) -> date:
    """Return the nearest day with a number in its month, to come or gone by, or today."""
    from dateutil.relativedelta import relativedelta

    way = -1 if past else 1
    for months in range(12):
        day = today + relativedelta(months=way * months, day=number)
        if day.day == number and (day <= today if past else day >= today):
            return day
    raise ValueError(number)


def read_time(text: str) -> time:
    """Return the time that somebody typed.

    >>> read_time("9.30"), read_time("14"), read_time("2:15pm")
    (datetime.time(9, 30), datetime.time(14, 0), datetime.time(14, 15))

    Raises:
        InputError: it can be read as no time.
    """
    found = re.fullmatch(r"(\d{1,2})(?:[.:h ]?(\d{2}))?\s*([ap])?\.?m?\.?", short_form(text))
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
    return _by_day(read_time(text), short_form(text))


def read_when(text: str, today: date, offered: date | None = None) -> datetime:
    """Return the day and time that somebody typed; a time alone is on the day that is offered.

    >>> read_when("15/9 10", date(2026, 9, 1))
    datetime.datetime(2026, 9, 15, 10, 0)
    >>> read_when("9.30", date(2026, 9, 1), offered=date(2026, 9, 2))
    datetime.datetime(2026, 9, 2, 9, 30)
    >>> read_when("thu 3", date(2026, 9, 1)), read_when("thu 3am", date(2026, 9, 1)).hour
    (datetime.datetime(2026, 9, 3, 15, 0), 3)
    >>> read_when("Thursday at three", date(2026, 9, 1))
    datetime.datetime(2026, 9, 3, 15, 0)

    Raises:
        InputError: the day or the time is missing, or cannot be read.
    """
    found = _AT.fullmatch(short_form(text))
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
    day = _whole_day(text, today)
    if day is not None and day >= today:
        return day, None
    try:  # “15/9 10” is an hour, and no day of 2010
        when = read_when(text, today, offered=today)
    except InputError:
        if day is None:
            raise
        return day, None
    return when.date(), when.time()


def _whole_day(text: str, today: date) -> date | None:
    try:
        return read_day(text, today)
    except InputError:
        return None


def _by_day(at: time, typed: str) -> time:
    """Return the hour that is meant: at a bare 3 somebody is rung, or comes, in the afternoon."""
    is_bare = 0 < at.hour < EARLY and not re.search("^0|[apm]", typed)
    return at.replace(hour=at.hour + 12) if is_bare else at
