"""Reading printed pages back with general-purpose PDF libraries."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

import pdfplumber

from recall.letters.composed import ComposedLetter
from recall.letters.pages import PdfReport, make_pdf

MM = 25.4 / 72


class Glyph(NamedTuple):
    """One character on a page, in millimetres from the top left corner."""

    text: str
    left: float
    right: float
    top: float
    bottom: float
    points: float


class Print(NamedTuple):
    """A printed batch, page by page."""

    report: PdfReport
    pages: list[list[Glyph]]
    texts: list[str]
    letters: list[ComposedLetter]

    def first_page(self, number: str) -> list[Glyph]:
        """Return what stands on a letter's first page."""
        placed = next(p for p in self.report.placed if p.number == number)
        return self.pages[placed.first_page - 1]

    def text(self, number: str) -> str:
        """Return the text of all pages of a letter."""
        placed = next(p for p in self.report.placed if p.number == number)
        return "\n".join(self.texts[placed.first_page - 1 : placed.last_page])


def print_and_read(letters: list[ComposedLetter], out: Path) -> Print:
    """Make the PDF and read it back."""
    report = make_pdf(letters, out)
    with pdfplumber.open(out) as pdf:
        pages = [[_glyph(c) for c in page.chars if c["text"].strip()] for page in pdf.pages]
        texts = [page.extract_text() for page in pdf.pages]
    return Print(report, pages, texts, letters)


def _glyph(char: dict[str, float]) -> Glyph:
    edges = (char[edge] * MM for edge in ("x0", "x1", "top", "bottom"))
    return Glyph(str(char["text"]), *edges, float(char["size"]))


def joined(text: str) -> str:
    """Return a text without any space, so that line breaks on the page do not matter."""
    return re.sub(r"\s", "", text)
