"""Text from outside, made safe to set: one line, composed accents, nothing invisible."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_JOINERS = "\u200c\u200d"
"""Zero-width (non-)joiners: invisible, but Persian and Indic names are spelled with them."""
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co"})
"""Controls, formats (bidirectional controls among them), surrogates, private use."""
_SPACES = re.compile(r"\s+")


@lru_cache(maxsize=4096)
def clean(text: str) -> str:
    """Return the text on one line, without control, bidirectional-control or private characters.

    A right-to-left override would turn a name round on the page, a control character stops
    the page library, and private characters are what the wording marks its blocks with.
    """
    composed = unicodedata.normalize("NFC", _SPACES.sub(" ", text))
    seen = (c for c in composed if c in _JOINERS or unicodedata.category(c) not in _UNSEEN)
    return _SPACES.sub(" ", "".join(seen)).strip()


def clean_lines(lines: tuple[str, ...]) -> tuple[str, ...]:
    """Return the lines cleaned, without those that are empty."""
    return tuple(kept for kept in map(clean, lines) if kept)
