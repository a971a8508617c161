"""What lies beside a batch of letters: a sheet that counts it, and labels for large envelopes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from recall import output
from recall.letters import address, coverage
from recall.letters.composed import ComposedLetter
from recall.letters.pages import LAYOUT, run_press

Row = tuple[str, ...]


@dataclass(frozen=True)
class Counted:
    """One table of the cover sheet."""

    heading: str
    columns: Row
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Listed:
    """One list of the cover sheet."""

    heading: str
    rows: tuple[str, ...]


@dataclass(frozen=True)
class Cover:
    """The sheet that lies on a batch."""

    title: str
    told: tuple[str, ...]
    parts: tuple[Counted, ...]
    lists: tuple[Listed, ...]
    by_hand: tuple[str, ...]
    foot: str


def make_cover(cover: Cover, out: Path) -> None:
    """Write the cover sheet as one tagged PDF, whole or not at all.

    Raises:
        LetterError: it cannot be made, or not written there.
    """
    _made("cover.typ", cover.title, [asdict(cover)], out)


def make_labels(letters: Sequence[ComposedLetter], out: Path) -> None:
    """Write the addresses of letters on sheets of labels, each with the letter's number.

    Raises:
        LetterError: they cannot be made, or not written there.
    """
    _made("labels.typ", "Labels", [{"labels": [_label(letter) for letter in letters]}], out)


def _label(letter: ComposedLetter) -> dict[str, Any]:
    """Return an address as it fits; what fits nowhere is set small and runs on."""
    fitted = address.fit(letter.address) or address.Fitted(letter.address, 9.0, 3.4)
    return {
        "number": letter.number,
        "address": fitted.lines,
        "address_pt": fitted.points,
        "address_step": fitted.step_mm,
    }


def _made(layout: str, title: str, pages: list[dict[str, Any]], out: Path) -> None:
    order = {
        "title": title,
        "layout": str(LAYOUT / layout),
        "root": str(LAYOUT),
        "fonts": str(coverage.FONTS),
        "letters": pages,
    }
    _head, pdf = run_press(order, 1)
    output.write(out, pdf, named_here=True)
