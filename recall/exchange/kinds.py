"""Kinds of files: their documented columns, and how a row is made of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from recall.exchange.cells import Cells

Row = TypeVar("Row")
WORDS = ("decode", "yes_no", "_relation", "_objected", "_language")
"""The readers of cells that hold words: `decode` is that of a choice."""


@dataclass(frozen=True, slots=True)
class Column:
    """One documented column."""

    name: str
    says: str
    decode: Callable[[Cells, str], Any]
    needed: bool = False
    is_list: bool = False
    """Holds words apart by semicolons; each is mapped by itself."""

    @property
    def takes_words(self) -> bool:
        """Return whether its cells are words of ours, not names, days or numbers of somebody."""
        return self.is_list or self.decode.__name__ in WORDS


@dataclass(frozen=True, slots=True)
class Part:
    """Columns that are made into one value together, the same for every row that says the same."""

    name: str
    columns: frozenset[str]
    make: Callable[[dict[str, Any]], Any]
    """Gives the value from those of its columns, by name; raises `Wrong` where they disagree."""


@dataclass(frozen=True)
class FileKind(Generic[Row]):
    """A kind of file: its columns, and how a row is made from their values."""

    name: str
    columns: tuple[Column, ...]
    build: Callable[[dict[str, Any]], Row]
    """May raise `Wrong` where the values do not go together."""
    key: Callable[[Row], str] = field(default=lambda _row: "")
    """What no two rows of a file may share; empty where nothing is."""
    key_column: str = ""
    parts: tuple[Part, ...] = ()
    """Which `build` takes made, under their names, or as the values of their columns."""

    def column(self, name: str) -> Column | None:
        """Return a column by name."""
        return next((c for c in self.columns if c.name == name), None)
