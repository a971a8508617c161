"""A letter in words: what is stored in its row, and what its page is made from again."""

from __future__ import annotations

from typing import Literal

import msgspec

from recall.care.audiogram import Audiogram
from recall.errors import LetterError
from recall.letters.data import Page, Size

BlockKind = Literal["text", "heading", "list", "facts", "lines", "audiogram"]


class Block(msgspec.Struct, frozen=True, kw_only=True):
    """One block of a letter's body; every line is plain text."""

    kind: BlockKind
    lines: tuple[str, ...]


class ComposedLetter(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that the page shows, as text."""

    number: str
    kind: Page
    size: Size
    language: str
    """The language it is written in, which may be the fallback."""
    address: tuple[str, ...]
    practice_name: str
    practice_lines: tuple[str, ...]
    dated: str
    numbered: str
    """How the letter calls its own number: "Our reference: L-0012"."""
    body: tuple[Block, ...]
    audiogram: Audiogram | None = None
    """What a block of that kind draws; its line is the caption."""
    edge: str = ""
    """What stands at the foot for whoever folds it: which of how many in one envelope."""

    def strings(self) -> tuple[str, ...]:
        """Return every text that will be set on the page."""
        head = (self.practice_name, self.dated, self.numbered, self.edge)
        lines = tuple(line for block in self.body for line in block.lines)
        return (*self.address, *self.practice_lines, *head, *lines)


def to_json(letter: ComposedLetter) -> bytes:
    """Return the letter as it is kept in its row."""
    return msgspec.json.encode(letter)


def from_json(stored: bytes | str) -> ComposedLetter:
    """Return the letter that was kept, so that its page can be made again."""
    try:
        return msgspec.json.decode(stored, type=ComposedLetter)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise LetterError(
            f"A stored letter cannot be read: {error}.",
            hint="Make the letter anew; its text in the database is damaged.",
        ) from error
