"""The rejects file: the rows that did not land, as they were, with what would be right.

Four columns are added at the end. Correct the cells, save, and import the file
again: the added columns are not read. The file has a byte order mark, so that
spreadsheets show every script, and comes back right whatever encoding is declared.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, TextIO

from recall import output
from recall.exchange.problem import Problem
from recall.exchange.rows_in import REJECT_COLUMNS, Read
from recall.exchange.spreadsheet import escape, for_spreadsheets

_APART = " | "


class Rejects:
    """Writes rejected rows as they come; no file is made where there are none.

    The file appears whole at the end, so that a rejects file can be the very file
    that is being imported, and a run that fails leaves none.
    """

    def __init__(
        self,
        path: Path,
        headings: Sequence[str],
        delimiter: str = ",",
        *,
        named_here: bool = False,
    ) -> None:
        self.path = path
        self._named_here = named_here
        self._part = path.with_name(path.name + ".part")
        self.count = 0
        self._kept = [i for i, h in enumerate(headings) if h not in REJECT_COLUMNS]
        self._width = len(headings)
        self._headings = [headings[i] for i in self._kept]
        self._delimiter = delimiter
        self._file: TextIO | None = None
        self._writer: Any = None

    def __enter__(self) -> Rejects:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._file is None:
            return
        try:
            self._file.close()
            if kind is None:
                os.replace(self._part, self.path)
        finally:
            self._part.unlink(missing_ok=True)

    def add(self, read: Read[Any]) -> None:
        """Write one rejected row."""
        if self._file is None:
            self._open()
        cells = [read.cells[i] if i < len(read.cells) else "" for i in self._kept]
        # Cells beyond the headings have no column; they are told in the last one.
        beyond = [c for c in read.cells[self._width :] if c.strip()]
        self._writer.writerow([*map(escape, cells), *map(escape, _added_cells(read, beyond))])
        self.count += 1

    def _open(self) -> None:
        """Begin the file."""
        heads = [*map(escape, self._headings), *REJECT_COLUMNS]
        first = io.StringIO()
        csv.writer(first, delimiter=self._delimiter).writerow(heads)
        content = for_spreadsheets(first.getvalue())
        self._part, file = output.begin(self.path, content, named_here=self._named_here)
        file.write(content)
        self._file = io.TextIOWrapper(file, encoding="utf-8", newline="")
        self._writer = csv.writer(self._file, delimiter=self._delimiter)


def _added_cells(read: Read[Any], beyond: list[str]) -> list[str]:
    """Return the four added cells."""
    fatal: list[Problem] = [p for p in read.problems if not p.kept]
    right = [p.right for p in fatal]
    if beyond:
        right.append("cells beyond the headings: " + _APART.join(beyond))
    return [
        str(read.line),
        _APART.join(p.column or "the whole row" for p in fatal),
        _APART.join(p.wrong for p in fatal),
        _APART.join(right),
    ]
