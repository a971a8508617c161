"""What people typed, made fit for a screen: never markup, never a control character.

Everything that comes out of the register goes through `plain` or `literal`.
"""

from __future__ import annotations

import unicodedata
from datetime import date

from rich.cells import cell_len, set_cell_size
from textual.content import Content

JOINERS = "\u200c\u200d"
"""Zero-width joiners that real names and emoji need."""
MISSING = "—"
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def plain(text: object) -> str:
    """Return a text on one line, without characters that could move or hide others.

    >>> plain("Ann\\x1b[31m\\n Lee\\u202e")
    'Ann [31m Lee'
    """
    return " ".join(_kept(str(text)).split())


def _kept(text: str) -> str:
    return "".join(
        c if c in JOINERS or unicodedata.category(c)[0] != "C" else " " if c in "\n\r\t\x1b" else ""
        for c in text
    )


def in_columns(text: str) -> Content:
    """Return a text of several lines as it is, with its columns.

    >>> in_columns("day    before\\n 1 Sep    30").plain
    'day    before\\n 1 Sep    30'
    """
    return Content("\n").join([Content(_kept(line)) for line in text.splitlines()])


def literal(text: object, style: str = "") -> Content:
    """Return a text that is shown as it is, whatever brackets it holds."""
    return Content.styled(plain(text), style)


def cut(text: object, width: int) -> str:
    """Return a text in exactly so many cells, with a mark where it did not fit.

    >>> cut("Nether Wrenfield", 8), cut("Wren", 8)
    ('Nether… ', 'Wren    ')
    """
    whole = plain(text)
    if width <= 0:
        return ""
    if cell_len(whole) <= width:
        return set_cell_size(whole, width)
    return (
        set_cell_size(whole, width - 1).rstrip()
        + "…"
        + " " * (width - 1 - cell_len(set_cell_size(whole, width - 1).rstrip()))
    )


def several(count: int, one: str, many: str = "") -> str:
    """Return a count with its noun.

    >>> several(1, "person", "people"), several(1200, "call")
    ('1 person', '1,200 calls')
    """
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def wrapped(text: object, width: int, most: int = 99) -> list[str]:
    """Return a text in lines of at most so many cells, and at most so many lines.

    >>> wrapped("We would like to look again", 12)
    ['We would', 'like to look', 'again']
    """
    lines: list[str] = [""]
    for word in plain(text).split():
        while cell_len(word) > width:
            head = set_cell_size(word, width).rstrip()
            lines.append(head)
            word = word[len(head) or 1 :]
        longer = f"{lines[-1]} {word}".strip()
        if cell_len(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    kept = [line for line in lines if line] or [""]
    if len(kept) > most:
        kept = [*kept[: most - 1], cut(f"{kept[most - 1]} …", width).rstrip()]
    return kept


def short_day(day: date | None, today: date | None = None) -> str:
    """Return a day in few cells; the year only where it is not this one.

    >>> short_day(date(2026, 9, 3), date(2026, 9, 1)), short_day(date(2027, 1, 3))
    ('3 Sep', '3 Jan 2027')
    """
    if day is None:
        return MISSING
    year = "" if today is not None and day.year == today.year else f" {day.year}"
    return f"{day.day} {MONTHS[day.month - 1]}{year}"


def month_day(day: date, today: date | None) -> str:
    """Return a day in at most nine cells: of another year the month alone.

    >>> month_day(date(2026, 9, 23), date(2026, 9, 1)), month_day(date(2027, 1, 23), None)
    ('23 Sep', 'Jan 2027')
    """
    here = today is not None and day.year == today.year
    return f"{day.day} {MONTHS[day.month - 1]}" if here else f"{MONTHS[day.month - 1]} {day.year}"


def full_day(day: date | None) -> str:
    """Return a day with its year, months short.

    >>> full_day(date(2018, 3, 2))
    '2 Mar 2018'
    """
    return short_day(day)


def late_by(days: int) -> str:
    """Return how late something is, in at most nine cells.

    >>> late_by(9), late_by(934)
    ('9d late', '133w late')
    """
    return f"{days}d late" if days < 100 else f"{days // 7}w late"
