"""What the shipped fonts can show, and how wide a line of theirs is.

A character without a glyph would stop a whole batch; looked up beforehand it holds back its
own letter only.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from fontTools.ttLib import TTFont

FONTS = Path(__file__).parent / "fonts"
_FILES = ("NotoSans-Variable.ttf", "NotoSansArabic-Variable.ttf")
_UNSEEN_BY_NATURE = frozenset("\u200c\u200d")
"""Joiners steer the shape of their neighbours and need no glyph."""


class _Face(NamedTuple):
    """The advance of each character that a font has, in thousandths of its size."""

    advances: dict[int, float]


@lru_cache(maxsize=1)
def _faces() -> tuple[_Face, ...]:
    return tuple(_read(FONTS / name) for name in _FILES)


def _read(path: Path) -> _Face:
    with TTFont(path, lazy=True) as font:
        em = font["head"].unitsPerEm
        widths = font["hmtx"].metrics
        cmap = font.getBestCmap()
        return _Face({code: widths[glyph][0] * 1000 / em for code, glyph in cmap.items()})


@lru_cache(maxsize=1)
def _covered() -> frozenset[str]:
    codes = {code for face in _faces() for code in face.advances}
    return frozenset(map(chr, codes)) | _UNSEEN_BY_NATURE


def uncovered(texts: Iterable[str]) -> tuple[str, ...]:
    """Return the characters that the fonts cannot show, in order of first use."""
    used = dict.fromkeys(character for text in texts for character in text)
    return tuple(character for character in used if character not in _covered())


def described(characters: Iterable[str]) -> str:
    """Return characters by code and name, for a reader whose screen cannot show them either."""
    named = (f"U+{ord(c):04X} {unicodedata.name(c, 'unnamed')}" for c in characters)
    return ", ".join(named)


def width_mm(text: str, points: float) -> float:
    """Return the width of a line at a size, without kerning or joining (so never too little)."""
    thousandths = sum(_advance(ord(character)) for character in text)
    return thousandths / 1000 * points * 25.4 / 72


def _advance(code: int) -> float:
    return next((f.advances[code] for f in _faces() if code in f.advances), 0.0)
