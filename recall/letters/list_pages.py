"""Lists for a day as a PDF, by the same press as the letters: tables to read and to write on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path

from recall import output
from recall.letters import coverage
from recall.letters.pages import LAYOUT, run_press

UNSEEN = "?"
"""What stands for a character that the fonts cannot show; the reference says who it is."""


@dataclass(frozen=True)
class Said:
    """One line of a cell."""

    says: str
    strong: bool = False


Cell = tuple[Said, ...]


@dataclass(frozen=True)
class Part:
    """One table of a paper, with what stands before it."""

    heading: str
    told: tuple[str, ...]
    headings: tuple[str, ...]
    widths: tuple[int, ...]
    """In millimetres; 0 takes the room that is left."""
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True)
class Paper:
    """Lists that are printed together."""

    title: str
    told: tuple[str, ...]
    parts: tuple[Part, ...]
    foot: str


def cell(*lines: str, strong: Iterable[str] = ()) -> Cell:
    """Return a cell: first what stands out, then its other lines; nothing makes no line."""
    first = [Said(_plain(line), strong=True) for line in strong if line]
    return (*first, *(Said(_plain(line)) for line in lines if line))


def make_lists(paper: Paper, out: Path) -> None:
    """Write lists as one tagged PDF, whole or not at all.

    Raises:
        LetterError: it cannot be made, or not written there.
    """
    order = {
        "title": paper.title,
        "layout": str(LAYOUT / "lists.typ"),
        "root": str(LAYOUT),
        "fonts": str(coverage.FONTS),
        "letters": [asdict(paper)],
    }
    _head, pdf = run_press(order, 1 + sum(len(part.rows) for part in paper.parts))
    output.write(out, pdf)


def _plain(text: str) -> str:
    """Return a line in characters that the fonts have."""
    for character in coverage.uncovered([text]):
        text = text.replace(character, UNSEEN)
    return text
