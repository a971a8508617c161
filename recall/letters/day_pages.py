"""The list of one day's appointments as a PDF, by the same press as the letters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from recall import output
from recall.letters import coverage
from recall.letters.pages import LAYOUT, run_press

HEADINGS = ("At", "Min.", "With", "Who, what to know, what it is about", "Came?")
UNSEEN = "?"
"""What stands for a character that the fonts cannot show; the reference says who it is."""


@dataclass(frozen=True)
class DayRow:
    """One appointment as it is printed."""

    at: str
    minutes: str
    whose: str
    who: str
    about: str
    """Birth date and reference."""
    mind: tuple[str, ...]
    """What to know before the ear is treated."""
    lines: tuple[str, ...]
    """What it is about."""
    came: str


@dataclass(frozen=True)
class DaySheet:
    """A day's list as it is printed."""

    title: str
    told: tuple[str, ...]
    rows: tuple[DayRow, ...]
    foot: str


def make_day_pdf(sheet: DaySheet, out: Path) -> None:
    """Write the list as one tagged PDF, whole or not at all.

    Raises:
        LetterError: it cannot be made, or not written there.
    """
    rows = [asdict(_shown(row)) for row in sheet.rows]
    order = {
        "title": sheet.title,
        "layout": str(LAYOUT / "day.typ"),
        "root": str(LAYOUT),
        "fonts": str(coverage.FONTS),
        "letters": [
            {
                "title": sheet.title,
                "told": sheet.told,
                "headings": HEADINGS,
                "rows": rows,
                "foot": sheet.foot,
            }
        ],
    }
    _head, pdf = run_press(order, 1 + len(rows))
    output.write(out, pdf)


def _shown(row: DayRow) -> DayRow:
    """Return a row in characters that the fonts have."""
    return replace(
        row,
        whose=_plain(row.whose),
        who=_plain(row.who),
        about=_plain(row.about),
        mind=_each(row.mind),
        lines=_each(row.lines),
    )


def _each(texts: Sequence[str]) -> tuple[str, ...]:
    return tuple(_plain(text) for text in texts)


def _plain(text: str) -> str:
    for character in coverage.uncovered([text]):
        text = text.replace(character, UNSEEN)
    return text
