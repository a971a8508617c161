"""Days and hours as people write them, put into the short forms that are read as days."""

from __future__ import annotations

import re
from collections.abc import Callable

DAYS = (
    r"(?:mon(?:day)?|tue(?:s|sday)?|wed(?:s|nesday)?|thu(?:r|rs|rsday)?"
    r"|fri(?:day)?|sat(?:urday)?|sun(?:day)?)\b"
)
MONTHS = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*"
_NUMBERED = {
    "one": 1,
    "two": 2,
    "three": 3,
    "four": 4,
    "five": 5,
    "six": 6,
    "seven": 7,
    "eight": 8,
    "nine": 9,
    "ten": 10,
    "eleven": 11,
    "twelve": 12,
}
_MINUTES = {
    "fifteen": 15,
    "twenty-five": 25,
    "twenty": 20,
    "thirty": 30,
    "forty-five": 45,
    "half": 30,
    "quarter": 15,
}
_HALF = {"morning": "am", "afternoon": "pm", "evening": "pm"}


def short_form(text: str) -> str:
    """Return what somebody wrote of a day, an hour or both, in the short form of the same.

    What is in no such words comes back as it is, in small letters. An hour in words has no half
    of the day unless it was written: whoever reads it decides, and says how it was read.

    >>> short_form("Thursday at three"), short_form("half past ten")
    ('thursday 3', '10:30')
    >>> short_form("tomorrow, quarter to 3 in the afternoon"), short_form("in two weeks at noon")
    ('tomorrow 2:45pm', '+2w 12:00')
    """
    words = " ".join(text.lower().replace(",", " ").split()).strip(".!")
    for pattern, becomes in _RULES:
        words = pattern.sub(becomes, words)
    return " ".join(words.split())


def _number(found: re.Match[str]) -> str:
    word = found[1]
    return f"{_MINUTES[word] if word in _MINUTES else _NUMBERED[word]}"


def _past_or_to(found: re.Match[str]) -> str:
    """Give “20 to 3” and “10 past 3” as the clock shows them."""
    minutes, hour = int(found[1]), int(found[3])
    if not (0 < minutes < 60 and 0 < hour < 24):
        return found[0]
    if found[2] == "to":
        minutes, hour = 60 - minutes, hour - 1 or 12
    return f"{hour}:{minutes:02}"


def _half_of_day(found: re.Match[str]) -> str:
    return f" {found[1]}{_HALF[found[2]]}"


def _half_before(found: re.Match[str]) -> str:
    return f" {found[2]}{_HALF[found[1]]}"


_HOUR = r"(\d{1,2}(?:[.:h]\d{2})?)"
_TH = r"(?:st|nd|rd|th)"
_HALVES = r"(morning|afternoon|evening)"
_Becomes = str | Callable[[re.Match[str]], str]
_WRITTEN: tuple[tuple[str, _Becomes], ...] = (
    (r"\b(the )?day after tomorrow\b", "+2d"),
    (r"\bo['’]? ?clock\b", ""),
    (r"\b(noon|midday)\b", "12:00"),
    (rf"\bhalf (?=\d|{'|'.join(_NUMBERED)})", "half past "),
    (r"\ba quarter (?=past|to)", "quarter "),
    (r"\b(a )?fortnight\b", "2 weeks"),
    (rf"\b(a|one) week on ({DAYS})", r"\2 week"),
    (r"\ba (?=day|week)", "1 "),
    (rf"\b({'|'.join((*_NUMBERED, *_MINUTES))})\b(?!-)", _number),
    (r"\b(\d{1,2}) (past|to) (\d{1,2})\b", _past_or_to),
    (r"(?<!\S)(?<!\d )(\d{1,2}) (15|20|25|30|45)$", r"\1:\2"),
    (r"\bin (\d+) (d|w)[a-z]*", r"+\1\2"),
    (rf" ?\b{_HOUR} (?:in the |this )?{_HALVES}\b", _half_of_day),
    (rf" ?\b{_HALVES} (?:at )?{_HOUR}$", _half_before),
    (r"\b(?:on|at|the|of|around|about)\b", ""),
    (rf"\b(this|coming) (?={DAYS})", ""),
    (rf"\b(\d{{1,2}}){_TH} +(?={MONTHS})", r"\1 "),
    (rf"^((?:{DAYS} +)?)({MONTHS}) (\d{{1,2}}){_TH}?\b", r"\1\3 \2"),
)
"""What is put in the place of what, in this order."""
_RULES = tuple((re.compile(pattern), becomes) for pattern, becomes in _WRITTEN)
