"""What is wrong with one cell or one row, said so that whoever exported it can put it right."""

from __future__ import annotations

import msgspec


class Problem(msgspec.Struct, frozen=True, kw_only=True):
    """One thing wrong, and what would be right."""

    line: int
    """The physical line of the file on which the row starts; headings are line 1."""
    column: str
    """The heading as the file has it; empty where the whole row is meant."""
    value: str
    wrong: str
    right: str
    kept: bool = False
    """True where the row lands all the same, with this value kept as it was written."""


class Wrong(ValueError):
    """A cell cannot be read; carries what is wrong and what would be right."""

    def __init__(self, wrong: str, right: str, column: str = "", value: str = "") -> None:
        super().__init__(wrong)
        self.wrong = wrong
        self.right = right
        self.column = column
        self.value = value
