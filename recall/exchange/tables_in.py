"""A CSV file as records with the physical line that each starts on, one at a time.

A quote that is opened and never closed would swallow the rest of the file; here
it costs its own line only: reading goes on at the next physical line.
"""

from __future__ import annotations

import csv
import io
import re
from collections import deque
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from recall.errors import InputError
from recall.exchange.spreadsheet import unescape
from recall.exchange.text_in import encoding_of

_DELIMITERS = (",", ";", "\t", "|")
_MOST_LINES = 500
_MOST_CHARS = 1 << 20
_HEADING_RECORDS = 12
_HEADING_CHARS = 1 << 16
_BETWEEN_WORDS = re.compile(r"[\s_\-]+")
_SEP_LINE = re.compile(r"sep=(.)\s*\Z", re.I)


class Record(NamedTuple):
    """One record of the file."""

    line: int
    """The physical line it starts on; the first is 1."""
    cells: list[str]
    wrong: str = ""
    """Why its cells cannot be trusted, where they cannot."""


@dataclass(frozen=True)
class Table:
    """A table whose headings are read; its records come by iterating, as often as wanted."""

    path: Path
    encoding: str
    delimiter: str
    headings: tuple[str, ...]
    heading_line: int

    def __iter__(self) -> Iterator[Record]:
        """Yield every record after the headings that is not blank."""
        with _open(self.path, self.encoding) as file:
            for record in _records(file, self.delimiter):
                if record.line > self.heading_line and any(record.cells):
                    yield record


def fold(heading: str) -> str:
    """Return a heading as it is compared: case, spaces, hyphens and underscores do not matter.

    >>> fold(" Family-Name ")
    'family_name'
    """
    return _BETWEEN_WORDS.sub("_", heading.strip(" \t\r\n\ufeff:*")).casefold()


def open_table(
    path: Path, known: Collection[str], *, encoding: str = "auto", delimiter: str = "auto"
) -> Table:
    """Return the table in `path`; `known` are the folded headings that may be expected.

    Raises:
        InputError: the file cannot be read or is no table with any of the headings.
    """
    name = encoding_of(path, encoding)
    with _open(path, name) as file:
        start = file.read(_HEADING_CHARS)
    said = _SEP_LINE.match(start.split("\n", 1)[0])
    tried = (said[1],) if said else _DELIMITERS if delimiter == "auto" else (delimiter,)
    found = [(_heading_record(start, mark, known), mark) for mark in tried]
    best, mark = max(found, key=lambda f: (_hits(f[0].cells, known), len(f[0].cells)))
    if not _hits(best.cells, known):
        shown = ", ".join(repr(c[:30]) for c in best.cells[:6]) or "nothing"
        raise InputError(
            f"{path.name}, line {best.line}: none of the expected headings was found, but {shown}.",
            hint="Check that it is the right file, that its first line holds the headings, "
            "and how they are mapped in the configuration.",
        )
    return Table(path, name, mark, tuple(c.strip(" \t\r\n\ufeff") for c in best.cells), best.line)


def _open(path: Path, encoding: str) -> io.TextIOWrapper:
    """Open with line ends left as they are, since they may stand inside quotes."""
    return path.open(encoding=encoding, errors="replace", newline="")


def _heading_record(start: str, delimiter: str, known: Collection[str]) -> Record:
    """Return the record that holds the headings: of the first ones the one with most of them.

    Above them a title may stand, or the day of the export; blank ones and `sep=` do not count.
    """
    said: list[Record] = []
    for record in _records(io.StringIO(start, newline=""), delimiter):
        if any(c.strip() for c in record.cells) and not _is_sep(record):
            said.append(record)
        if len(said) >= _HEADING_RECORDS:
            break
    best = max((_hits(record.cells, known) for record in said), default=0)
    return next((r for r in said if _hits(r.cells, known) == best), Record(1, []))


def _is_sep(record: Record) -> bool:
    """Return whether this is the line by which spreadsheets tell each other the delimiter."""
    return record.line == 1 and record.cells[0].lower().startswith("sep=")


def _hits(cells: list[str], known: Collection[str]) -> int:
    """Return how many cells are expected headings."""
    return sum(fold(cell) in known for cell in cells)


class _Lines:
    """Physical lines, which can be given back."""

    def __init__(self, lines: Iterator[str]) -> None:
        self.lines = lines
        self.returned: deque[str] = deque()
        self.taken: list[str] = []
        self.chars = 0
        self.line = 0

    def __iter__(self) -> _Lines:
        return self

    def __next__(self) -> str:
        text = self.returned.popleft() if self.returned else next(self.lines)
        self.line += 1
        self.taken.append(text)
        self.chars += len(text)
        if len(self.taken) > _MOST_LINES or self.chars > _MOST_CHARS:
            raise csv.Error("unexpected end of data")
        return text

    def begin(self) -> int:
        """Start a record; return its line."""
        self.taken.clear()
        self.chars = 0
        return self.line + 1

    def give_back_all_but_first(self) -> str:
        """Return the first line of the record; the others will be read again."""
        first, *others = self.taken
        self.returned.extendleft(reversed(others))
        self.line -= len(others)
        return first


def _records(lines: Iterator[str], delimiter: str) -> Iterator[Record]:
    """Yield the records of a file, blank ones included."""
    source = _Lines(lines)
    reader = csv.reader(source, delimiter=delimiter, strict=True)
    while True:
        line = source.begin()
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            first = source.give_back_all_but_first()
            yield Record(line, _roughly(first, delimiter), _quotes_wrong(error))
            reader = csv.reader(source, delimiter=delimiter, strict=True)
            continue
        if "'" in "".join(cells):
            cells = [unescape(cell) for cell in cells]
        yield Record(line, cells)


def _quotes_wrong(error: csv.Error) -> str:
    """Return in words why a record could not be taken apart."""
    if "end of data" in str(error):
        return "a quotation mark is opened and not closed"
    if "field larger" in str(error):
        return "a cell is longer than 131,072 characters"
    return "a quotation mark stands inside a quoted cell"


def _roughly(line: str, delimiter: str) -> list[str]:
    """Return the cells of a broken line with its quotation marks as they stand."""
    return [unescape(cell) for cell in line.rstrip("\r\n").split(delimiter)]
