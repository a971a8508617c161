"""The order in which letters leave the printer."""

from __future__ import annotations

from collections.abc import Iterable

from recall.letters.composed import ComposedLetter
from recall.letters.data import SIZES


def in_posting_order(letters: Iterable[ComposedLetter]) -> tuple[ComposedLetter, ...]:
    """Return the letters by size, then by address, so that one home's lie together.

    Everything that goes into a window envelope comes before large print, which needs another;
    the last line of an address (the postcode) leads. In a home, what goes to one addressee lies
    together, for it may share an envelope.
    """
    return tuple(sorted(letters, key=_place))


def _place(letter: ComposedLetter) -> tuple[int, tuple[str, ...], str, str]:
    home = tuple(line.casefold() for line in reversed(letter.address[1:]))
    name = "".join(letter.address[:1]).casefold()
    return SIZES.index(letter.size), home, name, letter.number
