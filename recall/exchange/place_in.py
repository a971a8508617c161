"""A column where it stands in a file, with what its cells were decoded into before."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from recall.exchange.cells import Cells
from recall.exchange.kinds import Column
from recall.exchange.problem import Wrong

_UNREADABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufffd]")
_REMEMBERED = 2000


@dataclass(frozen=True, slots=True)
class Place:
    """A column found in the file."""

    index: int
    column: Column
    heading: str
    values: dict[str, str]
    name: str
    """The column's."""
    known: dict[str, Any] = field(default_factory=dict)
    """Cells decoded before: findings are a few words said over and over."""

    def mapped(self, cell: str) -> str:
        """Return the cell in our words, where the configuration gives any."""
        if self.column.is_list:
            parts = (part.strip() for part in cell.replace("\n", ";").split(";"))
            return "; ".join(w for p in parts if (w := self._in_list(p)))
        return self.values.get(cell.casefold(), cell)

    def _in_list(self, part: str) -> str:
        """Return an item of a list in our words; one with commas may be several."""
        if part.casefold() in self.values or "," not in part:
            return self.values.get(part.casefold(), part)
        words = (word.strip() for word in part.split(","))
        return ", ".join(w for p in words if (w := self.values.get(p.casefold(), p)))

    def value(self, cell: str, cells: Cells) -> Any:
        """Return the value of a cell that was not decoded before.

        Raises:
            Wrong: it cannot be read.
        """
        value = _decoded(self.column, cells, cell)
        if len(self.known) >= _REMEMBERED:
            self.known.clear()
        self.known[cell] = value
        return value


def _decoded(column: Column, cells: Cells, cell: str) -> Any:
    """Return the value of a cell that can be read at all."""
    if (not cell.isprintable() or "\ufffd" in cell) and _UNREADABLE.search(cell):
        raise Wrong("holds a character that cannot be read", "export the file again as UTF-8")
    return column.decode(cells, cell)
