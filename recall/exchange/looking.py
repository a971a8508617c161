"""A file of somebody else's: its headings and words are read, guessed at, and written as a mapping.

Nothing is taken in. What is not known is counted and left to whoever checks it.
"""

from __future__ import annotations

import json
import tomllib
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from recall.errors import InputError
from recall.exchange.cells import Cells
from recall.exchange.day_order import DAYS, DayOrder, swapped
from recall.exchange.kinds import Column, FileKind
from recall.exchange.mapping import SIDED
from recall.exchange.problem import Wrong
from recall.exchange.rows_in import REJECT_COLUMNS
from recall.exchange.tables_in import Table, fold, open_table

MOST_WORDS = 60
"""Distinct cells up to which a column is taken for one of words."""
PROSE = 25
"""Letters that cells have on average where they are free text."""


@dataclass
class Looked:
    """What a file of a kind looks like, and what is guessed of it."""

    kind: FileKind[Any]
    table: Table
    rows: int = 0
    headings: dict[str, str] = field(default_factory=dict)
    """Our column to the file's heading."""
    words: dict[str, Counter[str]] = field(default_factory=dict)
    """The distinct cells of each heading, with how often they are there."""
    values: dict[str, dict[str, str]] = field(default_factory=dict)
    """Our column, or finding of both ears, to the file's words and ours."""
    unknown: dict[str, Counter[str]] = field(default_factory=dict)
    """The words of our columns that nobody could guess."""
    notes: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    """Headings that nothing would be read from."""


@cache
def usual() -> dict[str, Any]:
    """Return what headings and words are usually called."""
    return tomllib.loads(files("recall.exchange").joinpath("usual_words.toml").read_text("utf-8"))


def look(path: Path, kind: FileKind[Any], cells: Cells) -> Looked:
    """Return what a file looks like as one of a kind.

    Raises:
        InputError: it cannot be read, or none of its headings can be guessed.
    """
    names = _names(kind)
    table = open_table(path, names.keys())
    found = Looked(kind, table)
    taken: set[str] = set()
    for heading in table.headings:
        column = names.get(_bare(heading))
        if column and column not in taken:
            taken.add(column)
            found.headings[column] = heading
    _count_words(found)
    _time_with_the_day(found, cells)
    for column, heading in found.headings.items():
        _guess_words(found, kind.column(column), found.words[heading], cells)
    _same_for_both_ears(found)
    _sort_the_rest(found)
    return found


def look_at(path: Path, kinds: Iterable[FileKind[Any]], cells: Cells) -> Looked:
    """Return what a file looks like as the kind that most of its headings belong to.

    Raises:
        InputError: it cannot be read, or none of its headings can be guessed.
    """
    best: Looked | None = None
    wrong: InputError | None = None
    for kind in kinds:
        try:
            found = look(path, kind, cells)
        except InputError as error:
            wrong = wrong or error
            continue
        if best is None or _weight(found) > _weight(best):
            best = found
    if best is None:
        raise wrong or InputError(f"{path.name} holds nothing.", hint="Export it again.")
    return best


def _weight(found: Looked) -> tuple[int, int]:
    missing = sum(c.needed and c.name not in found.headings for c in found.kind.columns)
    return -missing, len(found.headings)


def order_guessed(found: Looked, date_format: str) -> str:
    """Return the format that a file's dates have: as set, or with day and month swapped."""
    days = DayOrder(date_format)
    for name, heading in found.headings.items():
        column = found.kind.column(name)
        if column is not None and column.decode in DAYS:
            for cell in found.words[heading]:
                days.look(0, heading, cell)
    return swapped(date_format) if days.against and not days.settled else date_format


def _bare(heading: str) -> str:
    return fold(heading).replace(".", "").replace("/", "_").replace("(", "").replace(")", "")


def _names(kind: FileKind[Any]) -> dict[str, str]:
    """Return our columns by how their headings may be called, folded."""
    said: dict[str, list[str]] = usual()["headings"].get(kind.name, {})
    names = {fold(c.name): c.name for c in kind.columns}
    for column, others in said.items():
        names |= {fold(other): column for other in others if fold(other) not in names}
    for name in (c.name for c in kind.columns if c.name.startswith(SIDED)):
        side, _, finding = name.partition("_")
        for called in (finding, *usual()["headings"]["ear"].get(finding, ())):
            for ear in usual()["ears"][side]:
                for said_so in _with_ear(fold(called), ear):
                    names.setdefault(said_so, name)
    return names


def _with_ear(called: str, ear: str) -> Iterator[str]:
    """Give a heading with its ear at the beginning, at the end, or between two words.

    >>> list(_with_ear("wax_before", "r"))
    ['r_wax_before', 'wax_r_before', 'wax_before_r']
    """
    words = called.split("_")
    return ("_".join((*words[:n], ear, *words[n:])) for n in range(len(words) + 1))


def _count_words(found: Looked) -> None:
    counts: list[Counter[str]] = [Counter() for _ in found.table.headings]
    for record in found.table:
        found.rows += 1
        for index, cell in enumerate(record.cells[: len(counts)]):
            if text := cell.strip():
                counts[index][text] += 1
    found.words = dict(zip(found.table.headings, counts, strict=True))


def _time_with_the_day(found: Looked, cells: Cells) -> None:
    """Guess that the time stands in the cell of the day, where no column holds it alone."""
    heading = found.headings.get("on")
    time = found.kind.column("at")
    if heading is None or time is None or "at" in found.headings:
        return
    words = found.words[heading]
    if words and all(_reads(time, cells, word) for word in words):
        found.headings["at"] = heading


def _guess_words(found: Looked, column: Column | None, words: Counter[str], cells: Cells) -> None:
    """Guess what the words of a column mean; what is ours already needs no line."""
    if column is None or not (column.takes_words or column.name.startswith(SIDED)):
        return
    parts = words
    if column.is_list:
        parts = _parts(words, lambda word: _reads(column, cells, word))
    if len(parts) > MOST_WORDS:
        return
    mapped, unknown = {}, Counter[str]()
    for word, count in parts.items():
        if _reads(column, cells, word):
            continue
        ours = guess(word, lambda ours: _reads(column, cells, ours))
        if ours is None:
            unknown[word] = count
        else:
            mapped[word] = ours
    if mapped:
        found.values[column.name] = mapped
    if unknown:
        found.unknown[column.name] = unknown


def _parts(words: Counter[str], reads: Callable[[str], bool]) -> Counter[str]:
    """Return the words of lists: apart by semicolons, or by commas where no word has one."""
    parts: Counter[str] = Counter()
    for cell, count in words.items():
        for part in cell.replace("\n", ";").split(";"):
            for word in (part,) if reads(part) else part.split(","):
                if word.strip():
                    parts[word.strip()] += count
    return parts


def _reads(column: Column, cells: Cells, word: str) -> bool:
    try:
        column.decode(cells, word)
    except Wrong:
        return False
    return True


def guess(word: str, reads: Callable[[str], bool]) -> str | None:
    """Return what a word usually means, in a column that reads some words of ours."""
    plain = fold(word.replace(".", "").replace("/", " ")).replace("_", " ")
    if plain in usual()["unknown"]["words"]:
        return ""
    for ours, others in usual()["words"].items():
        if plain in others and reads(ours):
            return str(ours)
    return None


def _same_for_both_ears(found: Looked) -> None:
    """Put the words of both ears into one table, where they do not contradict each other."""
    for group in (found.values, found.unknown):
        sides: dict[str, list[str]] = defaultdict(list)
        for name in [n for n in group if n.startswith(SIDED)]:
            sides[name.partition("_")[2]].append(name)
        for bare, names in sides.items():
            tables = [dict(group.pop(name)) for name in names]
            merged: dict[str, Any] = {}
            for table in tables:
                merged |= table
            group[bare] = merged  # type: ignore[assignment]


def _sort_the_rest(found: Looked) -> None:
    """Keep free text for the note; the rest is told."""
    used = set(found.headings.values())
    has_note = found.kind.column("note") is not None
    for heading in found.table.headings:
        if heading in used or not heading or heading in REJECT_COLUMNS:
            continue
        words = found.words[heading]
        long = sum(map(len, words)) / max(1, len(words)) >= PROSE
        (found.notes if has_note and long else found.left).append(heading)


def as_toml(looked: Iterable[Looked], date_format: str) -> str:
    """Return the whole `[import]` part of a configuration, ready to be checked."""
    lines = ["[import]", f"date_format = {_text(date_format)}", ""]
    for found in looked:
        lines += _part(found)
    return "\n".join(lines)


def _part(found: Looked) -> list[str]:
    name = found.kind.name
    needed = [c for c in found.kind.columns if c.needed and c.name not in found.headings]
    lines = [f"[import.{name}]  # {found.table.path.name}, {_rows(found.rows)}"]
    if found.notes:
        lines.append(f"notes = [{', '.join(map(_text, found.notes))}]  # free text")
    lines += [f"# Nothing is read from: {', '.join(found.left)}"] if found.left else []
    lines += ["", f"[import.{name}.headings]"]
    lines += [f"# {c.name} = ?  is needed: {c.says}" for c in needed]
    lines += [
        f"{column} = {_text(heading)}"
        for column, heading in found.headings.items()
        if fold(column) != fold(heading)
    ]
    for column in dict.fromkeys((*found.values, *found.unknown)):
        lines += ["", f"[import.{name}.values.{column}]"]
        lines += _words(found.values.get(column, {}), found.unknown.get(column, {}))
    return [*lines, ""]


def _words(known: Mapping[str, str], unknown: Mapping[str, int]) -> list[str]:
    lines = [f"{_text(word)} = {_text(ours)}" for word, ours in sorted(known.items())]
    often = sorted(unknown.items(), key=lambda item: (-item[1], item[0]))
    return [*lines, *(f"# {_text(word)} = ?  in {_rows(count)}" for word, count in often)]


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count:,} rows"


def _text(value: str) -> str:
    """Return a text as it is quoted in a configuration."""
    return json.dumps(value, ensure_ascii=False)
