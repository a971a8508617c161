"""What is typed into the form as text, and how it is shown: hearing, tympanograms, dates."""

from __future__ import annotations

import re
from datetime import date
from typing import Any, get_args

import msgspec
from msgspec import UNSET

from recall.care.case import DAYS_IN
from recall.care.dates import Before, When
from recall.care.hearing import four_frequency_average
from recall.care.measured import Hz, Levels, Tympanogram, TympanogramType
from recall.errors import InputError
from recall.exchange.typed_days import read_day
from tui.ears.fields import Field

FOUR: tuple[Hz, ...] = ("500", "1000", "2000", "4000")
_AGO = re.compile(r"(\d{1,3})\s*(d|w|m|y)[a-z]*(\s+ago)?")
_ONSET = re.compile(r"(\d{1,5})\s*(?:(d|w|m|y)[a-z]*)?")
_UNITS = {"d": "days", "w": "weeks", "m": "months", "y": "years"}


def read_field(field: Field, text: str, on: date) -> Any:
    """Return the value that was typed into a field; None where it was emptied.

    Raises:
        InputError: it can be read as no such value.
    """
    words = " ".join(text.split())
    if not words:
        return None
    readers = {"levels": read_levels, "trace": read_trace, "count": _count}
    if field.kind == "when":
        return read_when(words, on)
    try:
        return readers[field.kind](words)
    except (ValueError, msgspec.ValidationError):
        raise InputError(
            f"“{words}” is not read as {field.label.lower()}.", hint=f"Type {field.hint}."
        ) from None


def show_field(field: Field, value: Any) -> str:
    """Return a value as it is typed."""
    if value is None:
        return ""
    if field.kind == "levels":
        return show_levels(value)
    if field.kind == "trace":
        return show_trace(value)
    if field.kind == "when":
        return show_when(value)
    return str(value)


def read_levels(text: str) -> Levels:
    """Return a hearing test: four levels in order, others by their frequency.

    >>> read_levels("15 20 nr 40 3000=35")
    {'500': 15.0, '1000': 20.0, '2000': 'nr', '4000': 40.0, '3000': 35.0}
    """
    found: dict[Any, Any] = {}
    places = iter(FOUR)
    for part in text.replace(",", " ").split():
        hz, eq, level = part.partition("=")
        if not eq:
            hz, level = next(places, ""), part
        if level == "-":
            continue
        found[hz] = "nr" if level.lower() == "nr" else float(level)
    return msgspec.convert(found, Levels)


def show_levels(levels: Levels) -> str:
    """Return a hearing test as it is typed.

    >>> show_levels({"500": 15, "1000": 15, "2000": 20, "4000": "nr", "250": 10})
    '15 15 20 nr 250=10'
    """
    four = [_level(levels[hz]) if hz in levels else "-" for hz in FOUR]
    while four and four[-1] == "-":
        four.pop()
    others = [
        f"{hz}={_level(levels[hz])}" for hz in get_args(Hz) if hz in levels and hz not in FOUR
    ]
    return " ".join((*four, *others))


def mean_words(levels: Levels) -> str:
    """Return the mean of the four frequencies, where all four were tested; never rounded.

    >>> mean_words({"500": 30, "1000": 35, "2000": 30, "4000": 35})
    '32.5 dB'
    """
    mean = four_frequency_average(levels)
    return "" if mean is None else f"{mean:g} dB"


def read_trace(text: str) -> Tympanogram:
    """Return a tympanogram: a type, a flat trace with its volume, or a measured peak.

    >>> read_trace("c1").type, read_trace("flat 1.2").volume_ml, read_trace("-150 .4 1.1").peak_daPa
    ('C1', 1.2, -150.0)
    """
    parts = text.split()
    types = {t.lower(): t for t in get_args(TympanogramType)}
    if len(parts) == 1 and parts[0].lower() in types:
        made: dict[str, Any] = {"type": types[parts[0].lower()]}
    elif parts[0].lower() == "flat":
        made = {"flat": True, **_numbers(("volume_ml",), parts[1:])}
    else:
        made = _numbers(("peak_daPa", "compliance_ml", "volume_ml"), parts)
    return msgspec.convert(made, Tympanogram)


def _numbers(names: tuple[str, ...], parts: list[str]) -> dict[str, Any]:
    if len(parts) > len(names):
        raise ValueError(parts)
    return {name: float(part) for name, part in zip(names, parts, strict=False)}


def show_trace(trace: Tympanogram) -> str:
    """Return a tympanogram as it is typed."""
    if trace.type is not UNSET:
        return str(trace.type)
    given = (trace.volume_ml,) if trace.flat else _measured(trace)
    numbers = [_level(n) for n in given if n is not UNSET]
    return " ".join((["flat"] if trace.flat else []) + numbers)


def _measured(trace: Tympanogram) -> tuple[Any, ...]:
    return trace.peak_daPa, trace.compliance_ml, trace.volume_ml


def read_when(text: str, on: date) -> When:
    """Return a day, a month, or so long before the visit.

    >>> read_when("6w", date(2026, 9, 1)).weeks, read_when("3/8", date(2026, 9, 1))
    (6, '2026-08-03')
    """
    words = text.lower()
    if re.fullmatch(r"\d{4}-\d{2}", words):
        return words
    if found := _AGO.fullmatch(words):
        return msgspec.convert({_UNITS[found[2]]: int(found[1])}, Before)
    return read_day(words, on, past=True).isoformat()


def read_onset(text: str) -> int:
    """Return over how many days something came on: a number of days, or 6w, 3m, 2y.

    >>> read_onset("20"), read_onset("6w"), read_onset("2y")
    (20, 42, 730)
    """
    found = _ONSET.fullmatch(text.strip().lower())
    if not found:
        raise InputError(
            f"{text!r} is no length of time.", hint="Write 20 for days, or 6w, 3m, 2y."
        )
    return int(found[1]) * DAYS_IN[_UNITS[found[2] or "d"][:-1]]


def show_when(when: When) -> str:
    """Return a day, a month, or how long before, as it is typed."""
    if isinstance(when, str):
        return when
    counts = {u: getattr(when, name) for u, name in _UNITS.items()}
    return " ".join(f"{count}{unit}" for unit, count in counts.items() if count)


def _count(text: str) -> int:
    return msgspec.convert(int(text), int)


def _level(level: Any) -> str:
    return level if isinstance(level, str) else f"{level:g}"
