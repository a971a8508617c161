"""How dates and times are written. The locale is always that of the wording's language."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, time
from functools import lru_cache, partial
from typing import Any, TypeVar

from babel import Locale, UnknownLocaleError
from babel.dates import format_date, format_time

from recall.letters.wording.hours import put_over

_T = TypeVar("_T")
_BRITISH = {"en": "en_GB"}
_BRITISH_CLOCK = {"en": "h:mm a"}


@lru_cache
def locale_of(language: str) -> Locale:
    """Return the locale of a language's folder name; English is British English."""
    try:
        return Locale.parse(_BRITISH.get(language, language.replace("-", "_")))
    except (UnknownLocaleError, ValueError):
        return Locale.parse("en_GB")


@lru_cache(maxsize=512)
def day(on: date, language: str) -> str:
    """Return "6 October 2026"."""
    return format_date(_a(date, on), "d MMMM y", locale=locale_of(language))


@lru_cache(maxsize=512)
def weekday(on: date, language: str) -> str:
    """Return "Tuesday 6 October 2026"."""
    return format_date(_a(date, on), "EEEE d MMMM y", locale=locale_of(language))


@lru_cache(maxsize=512)
def clock(at: time, language: str) -> str:
    """Return "2:30 pm"; in another language as it is usual there (CLDR's short form)."""
    locale = locale_of(language)
    return format_time(_a(time, at), _BRITISH_CLOCK.get(locale.language, "short"), locale=locale)


def hours(practice: Mapping[str, Any], language: str) -> str:
    """Return a practice's opening hours: its own words in the language, or ours put over."""
    written: str = practice["opening_hours"]
    locale = locale_of(language)
    own: str = practice["opening_hours_in"].get(locale.language, "")
    return own or (written if locale.language == "en" else put_over(written, locale))


def filters(language: str) -> dict[str, Callable[..., str]]:
    """Return the filters that wording in a language may use, by name."""
    named: dict[str, Callable[..., str]] = {
        "day": day,
        "weekday": weekday,
        "clock": clock,
        "hours": hours,
    }
    return {name: partial(made, language=language) for name, made in named.items()}


def _a(wanted: type[_T], given: _T) -> _T:
    """Return a value that is what a filter is for, and refuse another: wording is not typed."""
    if not isinstance(given, wanted):
        raise TypeError(f"{given!r} is not a {wanted.__name__}")
    return given
