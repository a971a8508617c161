"""One cell to one value: days, times, words, numbers. What cannot be read raises `Wrong`."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from recall.care.dates import Before, When
from recall.exchange import identifiers
from recall.exchange.identifiers import Identifier
from recall.exchange.phone_cells import PhoneCell, phone_cell
from recall.exchange.problem import Wrong

_YES = frozenset({"yes", "y", "true", "1"})
_NO = frozenset({"no", "n", "false", "0"})
_INVISIBLE = re.compile("[\u00ad\u200b\u202a-\u202e\u2066-\u2069\ufeff]")
_TIME = re.compile(r"([01]?[0-9]|2[0-3])[:.]([0-5][0-9])(?::[0-5][0-9])?")
_DAY_BEFORE = re.compile(r"^[0-9]{1,4}([./-])[0-9]{1,2}\1[0-9]{1,4}(?: +|T)")

_MONTH_ONLY = re.compile(r"[0-9]{4}-(0[1-9]|1[0-2])")
_AGO = re.compile(r"([0-9]{1,4}) ?(day|week|month|year)s?(?: (?:ago|before))?", re.I)
_MONTH_NAMES = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_OLDEST_AGE = 125


@dataclass(frozen=True)
class Cells:
    """How the cells of one file are read: its date format, the practice's country, and today."""

    date_format: str
    country: str
    today: date
    zone: str = "Europe/London"

    def text(self, cell: str) -> str:
        """Return one line of text, spaces tidied, in composed characters."""
        tidy = " ".join(cell.split())
        if not tidy.isascii():
            tidy = unicodedata.normalize("NFC", _INVISIBLE.sub("", tidy))
        if len(tidy) > 250:
            raise Wrong("is longer than 250 characters", "a shorter text")
        return tidy

    def note(self, cell: str) -> str:
        """Return text that may have several lines."""
        return "\n".join(" ".join(line.split()) for line in cell.splitlines()).strip()

    def lines(self, cell: str) -> tuple[str, ...]:
        """Return the lines of an address: apart by line breaks, else semicolons, else commas."""
        mark = next((m for m in ("\n", ";", ",") if m in cell), "\n")
        return tuple(t for part in cell.split(mark) if (t := self.text(part)))

    def day(self, cell: str) -> date:
        """Return a day, past or to come."""
        return parse_day(cell, self.date_format, self.zone)

    def past_day(self, cell: str) -> date:
        """Return a day that is not after today, nor older than anybody."""
        day = parse_day(cell, self.date_format, self.zone)
        if day > self.today:
            raise Wrong("is after today", f"a day up to {self.today.isoformat()}")
        if day.year < self.today.year - _OLDEST_AGE:
            raise Wrong(f"is more than {_OLDEST_AGE} years ago", "the year with four digits")
        return day

    def when(self, cell: str) -> When:
        """Return a day, a month or how long before the visit."""
        if _MONTH_ONLY.fullmatch(cell):
            return cell
        if ago := _AGO.fullmatch(cell.strip()):
            return Before(**{ago[2].lower() + "s": int(ago[1])})
        return self.past_day(cell).isoformat()

    def clock(self, cell: str) -> time:
        """Return a time of the day, also of a cell that holds the day before it."""
        if found := _TIME.fullmatch(_DAY_BEFORE.sub("", cell.strip())):
            return time(int(found[1]), int(found[2]))
        raise Wrong("is not a time", "hours and minutes, like 14:30")

    def yes_no(self, cell: str) -> bool:
        """Return yes as true, no as false."""
        word = cell.strip().casefold()
        if word in _YES:
            return True
        if word in _NO:
            return False
        raise Wrong("is neither yes nor no", "yes, no, or an empty cell where it was not recorded")

    def whole(self, cell: str) -> int:
        """Return a whole number."""
        if re.fullmatch(r"[0-9]{1,6}(\.0+)?", cell.strip()):
            return int(cell.split(".")[0])
        raise Wrong("is not a whole number", "digits only")

    def nhs_number(self, cell: str) -> Identifier:
        """Return an NHS number, right or not."""
        return identifiers.nhs_number(cell.strip())

    def phone(self, cell: str) -> PhoneCell:
        """Return the phone numbers of a cell, right or not, each with whose it is."""
        return phone_cell(cell.strip(), self.country)

    def postcode(self, cell: str) -> Identifier:
        """Return a postcode, right or not."""
        return identifiers.postcode(cell.strip(), self.country)

    def email(self, cell: str) -> Identifier:
        """Return an e-mail address, right or not."""
        return identifiers.email(cell.strip())


def choice(words: Iterable[str]) -> Callable[[Cells, str], Any]:
    """Return a decoder that takes one of `words`, in any case, with spaces or underscores."""
    allowed = {_word(w): w for w in words}

    def decode(_cells: Cells, cell: str) -> str:
        """Return the word as it is written in our files."""
        word = allowed.get(_word(cell))
        if word is None:
            raise not_a_word(cell, allowed.values())
        return word

    return decode


def not_a_word(cell: str, allowed: Iterable[str]) -> Wrong:
    """Return what is wrong with a word that is not one of those allowed."""
    words = sorted(allowed)
    near = difflib.get_close_matches(_word(cell[:60]), words, 1, 0.7)
    listed = "one of " + ", ".join(words)
    return Wrong("is not a known word", f"perhaps {near[0]}; {listed}" if near else listed)


def _word(cell: str) -> str:
    """Return a word as it is compared."""
    return re.sub(r"[\s\-]+", "_", cell.strip()).casefold()


@lru_cache(1 << 15)
def parse_day(cell: str, date_format: str, zone: str = "Europe/London") -> date:
    """Return the day written in `date_format`, or as YYYY-MM-DD; a time after it is dropped.

    A time with its offset is taken to the practice's own zone first, so that midnight here does
    not become the day before; midnight as written is a day and no time.

    >>> parse_day("1/9/2026", "DD/MM/YYYY")
    datetime.date(2026, 9, 1)
    >>> parse_day("1956-06-11T23:00:00Z", "DD/MM/YYYY", "Europe/London")
    datetime.date(1956, 6, 12)
    """
    text = cell.strip()
    found = _pattern("YYYY-MM-DD").fullmatch(text) or _pattern(date_format).fullmatch(text)
    if not found:
        raise Wrong("is not a date in the format of this file", _right_day(text, date_format))
    month = _month(found["m"])
    try:
        day = date(int(found["y"]), month, int(found["d"]))
    except ValueError:
        right = f"a day as {date_format}"
        if month > 12 and int(found["d"]) <= 12:
            right += "; if the file writes the month first, set its date_format to MM/DD/YYYY"
        raise Wrong("is no day of the calendar", right) from None
    return _here(day, found["at"], found["offset"], zone) if found["offset"] else day


def _here(day: date, at: str, offset: str, zone: str) -> date:
    """Return the day that it was in a zone at a time with its offset."""
    if not at.strip("0:."):
        return day
    clock = at.partition(".")[0]
    read = time.fromisoformat(clock.zfill(8) if clock.count(":") > 1 else clock.zfill(5))
    there = UTC if offset == "Z" else _offset(offset)
    return datetime.combine(day, read, there).astimezone(ZoneInfo(zone)).date()


def _offset(text: str) -> timezone:
    digits = text[1:].replace(":", "").ljust(4, "0")
    away = timedelta(hours=int(digits[:2]), minutes=int(digits[2:]))
    return timezone(-away if text[0] == "-" else away)


def numbers_of_day(text: str, date_format: str) -> tuple[int, int, int] | None:
    """Return year, month and day as `date_format` has them, of a text that is in no other form."""
    if _pattern("YYYY-MM-DD").fullmatch(text):
        return None
    found = _pattern(date_format).fullmatch(text)
    if found is None or not found["m"].isdigit():
        return None
    return int(found["y"]), int(found["m"]), int(found["d"])


def _right_day(text: str, date_format: str) -> str:
    """Return what would be right instead of something that is no date."""
    if re.fullmatch(r"[0-9]{5}", text):
        return f"a day as {date_format}: a spreadsheet's own day number is no date"
    if re.fullmatch(r"[0-9]{1,2}\D[0-9A-Za-z]{1,9}\D[0-9]{2}", text):
        return f"a day as {date_format}, the year with four digits"
    return f"a day as {date_format}"


def _month(text: str) -> int:
    """Return the number of a month given by number or English name; 0 for neither."""
    if text.isdigit():
        return int(text)
    short = text[:3].lower()
    return _MONTH_NAMES.index(short) + 1 if short in _MONTH_NAMES else 0


@lru_cache(64)
def _pattern(date_format: str) -> re.Pattern[str]:
    """Return what a date format looks like; / . - and space are taken for one another."""
    digits = "[0-9]{2}" if date_format.isalpha() else "[0-9]{1,2}"
    parts = {
        "DD": f"(?P<d>{digits})",
        "MON": "(?P<m>[A-Za-z]{3,9})",
        "MM": f"(?P<m>{digits})",
        "YYYY": "(?P<y>[0-9]{4})",
    }
    marks = re.findall(r"DD|MON|MM|YYYY|.", date_format)
    body = "".join(parts.get(m) or (r"[/.\- ]" if m in "/.- " else re.escape(m)) for m in marks)
    clock = r"(?P<at>[0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]+)?)?)"
    offset = r"(?P<offset>Z|[+-][0-9]{2}(?::?[0-9]{2})?)?"
    return re.compile(f"{body}(?:[T ]{clock} ?{offset})?")
