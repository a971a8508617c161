"""What the shipped fonts can show, and how wide a line of theirs is.

A character without a glyph would stop a whole batch; looked up beforehand it holds back its
own letter only.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import lru_cache
from itertools import chain
from pathlib import Path

from recall.letters.opentype import advances

FONTS = Path(__file__).parent / "fonts"
_FILES = ("NotoSans-Variable.ttf", "NotoSansArabic-Variable.ttf")
_UNSEEN_BY_NATURE = frozenset("\u200c\u200d")
"""Joiners steer the shape of their neighbours and need no glyph."""


@lru_cache(maxsize=1)
def _advances() -> dict[str, float]:
    """Return the advance of each character in thousandths of the size; the first font wins."""
    found: dict[str, float] = {}
    for name in reversed(_FILES):
        found |= advances(FONTS / name)
    return found | dict.fromkeys(_UNSEEN_BY_NATURE, 0.0)


def uncovered(texts: Iterable[str]) -> tuple[str, ...]:
    """Return the characters that the fonts cannot show, in order of first use."""
    covered = _advances().keys()
    used = dict.fromkeys(chain.from_iterable(texts))
    return tuple(character for character in used if character not in covered)


def described(characters: Iterable[str]) -> str:
    """Return characters by code and name, for a reader whose screen cannot show them either."""
    named = (f"U+{ord(c):04X} {unicodedata.name(c, 'unnamed')}" for c in characters)
    return ", ".join(named)


def width_mm(text: str, points: float) -> float:
    """Return the width of a line at a size, without kerning or joining (so never too little)."""
    advances = _advances()
    return sum(advances.get(character, 0.0) for character in text) / 1000 * points * 25.4 / 72
