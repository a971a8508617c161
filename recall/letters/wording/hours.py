"""Opening hours in the language of a letter: the practice's own words, or ours put over.

What the practice writes once in English ("Monday to Friday, 9 am to 5 pm") is put over where all
of it is understood: the names of days and how a time is written are those of the Unicode CLDR
(which Babel brings), a range is written with its dash, so that no word has to be mutated. Where
anything is not understood, it stays as it was written.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import time

from babel import Locale
from babel.dates import format_time

_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_DAY = "|".join(f"{day[:3]}(?:{day[3:]})?" for day in _DAYS)
_TIME = r"(\d{1,2})(?:[:.](\d{2}))? ?(am|pm)|(\d{1,2})[:.](\d{2})|noon|midday"
_WORD = re.compile(rf"(?P<day>\b(?:{_DAY})\b)|(?P<time>\b(?:{_TIME})\b)|(?P<to> ?(?:\bto\b|[-–]) ?)"
                   r"|(?P<and> ?\b(?:and|&)\b ?)|(?P<mark>[,;] ?| )", re.IGNORECASE)  # fmt: skip


def put_over(written: str, locale: Locale) -> str:
    """Return English opening hours in another language, or as they were written.

    >>> put_over("Monday to Friday, 9 am to 5 pm", Locale("cy"))
    'Dydd Llun – Dydd Gwener, 09:00 – 17:00'
    >>> put_over("By appointment", Locale("cy"))
    'By appointment'
    """
    parts: list[str] = []
    at = 0
    while at < len(written):
        found = _WORD.match(written, at)
        said = _said(found, locale) if found else None
        if found is None or said is None:
            return written
        parts.append(said)
        at = found.end()
    return "".join(parts)


def _said(found: re.Match[str], locale: Locale) -> str | None:
    """Return one word in the language; None where it is no time of day."""
    kinds: dict[str, Callable[[str, Locale], str | None]] = {
        "day": _day,
        "time": _time,
        "to": lambda _word, _locale: " – ",
        "and": lambda _word, _locale: ", ",
        "mark": lambda word, _locale: word,
    }
    kind = next(name for name in kinds if found[name] is not None)
    return kinds[kind](found[kind], locale)


def _day(word: str, locale: Locale) -> str:
    number = next(n for n, day in enumerate(_DAYS) if day.startswith(word[:3].casefold()))
    name: str = locale.days["stand-alone"]["wide"][number]
    return name


def _time(word: str, locale: Locale) -> str | None:
    if word.casefold() in ("noon", "midday"):
        return format_time(time(12), "short", locale=locale)
    digits = [int(each) for each in re.findall(r"\d+", word)]
    hour, minute = digits[0], digits[1] if len(digits) > 1 else 0
    half = word[-2:].casefold()
    if half in ("am", "pm"):
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    if hour > 23 or minute > 59:
        return None
    return format_time(time(hour, minute), "short", locale=locale)
