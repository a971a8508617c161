"""What people typed, made fit for a screen: never markup, never a control character.

Everything that comes out of the register goes through `plain` or `literal`.
"""

from __future__ import annotations

import unicodedata

from rich.cells import cell_len, set_cell_size
from textual.content import Content

JOINERS = "\u200c\u200d"
"""Zero-width joiners that real names and emoji need."""
MISSING = "—"


def plain(text: object) -> str:
    """Return a text on one line, without characters that could move or hide others.

    >>> plain("Ann\\x1b[31m\\n Lee\\u202e")
    'Ann [31m Lee'
    """
    kept = (
        c if c in JOINERS or unicodedata.category(c)[0] != "C" else " " if c in "\n\r\t\x1b" else ""
        for c in str(text)
    )
    return " ".join("".join(kept).split())


def literal(text: object, style: str = "") -> Content:
    """Return a text that is shown as it is, whatever brackets it holds."""
    return Content.styled(plain(text), style)


def cut(text: object, width: int) -> str:
    """Return a text in exactly so many cells, with a mark where it did not fit.

    >>> cut("Nether Wrenfield", 8), cut("Wren", 8)
    ('Nether …', 'Wren    ')
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
