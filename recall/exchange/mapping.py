"""The practice's words in ours: for one column, for both ears, for every column at once."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Sequence
from typing import Any

from recall.config import FileMap
from recall.errors import ConfigError, InputError
from recall.exchange.cells import Cells
from recall.exchange.kinds import Column, FileKind
from recall.exchange.problem import Wrong
from recall.exchange.tables_in import Table, fold

SIDED = ("right_", "left_")
"""How the columns of an ear begin."""
_NEARLY = 0.86
"""How alike a heading and a column of an ear are where it is taken for a slip."""
_FIGURES = re.compile(r"[0-9]+")
_LIKE, _LIKE_OF_AN_EAR, _LIKE_NEEDED = 0.8, 0.65, 0.5
"""How alike a heading that nothing is read from and a mapped one are where it is taken for it: of
an ear sooner, for its findings would be lost; a needed one stops the file in any case."""
_SEVERAL = re.compile(r"\s*([a-z_0-9]+)\s*=\s*([^;=]+?)\s*(?:;|$)")
Words = dict[str, dict[str, str]]


def mapped_words(given: FileMap) -> Words:
    """Return the practice's words by our column, as they are compared."""
    return {fold(name): _compared(words) for name, words in given.values.items()}


def words_of(column: Column, values: Words, given: FileMap) -> dict[str, str]:
    """Return the words of one column: its own, those of both ears, then those of every column."""
    bare = column.name.partition("_")[2] if column.name.startswith(SIDED) else ""
    general = _compared(given.words) if column.takes_words else {}
    return general | values.get(fold(bare), {}) | values.get(fold(column.name), {})


def refuse_unknown_words(kind: FileKind[Any], given: FileMap, cells: Cells) -> None:
    """Refuse a word of the practice that is mapped to none of ours: all its rows would go back.

    Raises:
        ConfigError: with the word, and what it may be mapped to.
    """
    for name, words in given.values.items():
        column = kind.column(fold(name)) or kind.column(f"{SIDED[0]}{fold(name)}")
        for word, ours in words.items() if column else ():
            try:
                _read(kind, column, cells, ours)
            except Wrong as error:
                raise ConfigError(
                    f"import.{kind.name}.values.{name}: {word!r} is mapped to {ours!r}, which "
                    f"{error.wrong}.",
                    hint=f"Write {error.right}.",
                ) from None


def _read(kind: FileKind[Any], column: Column | None, cells: Cells, ours: str) -> None:
    several = several_in(ours)
    for name, word in several.items():
        found = kind.column(name) or kind.column(f"{SIDED[0]}{name}")
        if found is None:
            raise Wrong(f"sets {name!r}, and there is no such column", "a finding = a word of it")
        found.decode(cells, word)
    if column is None or several or not ours:
        return
    try:
        column.decode(cells, ours)
    except Wrong as error:
        if kind.column(f"{SIDED[0]}{fold(ours)}") is None:
            raise
        right = f'"{fold(ours)} = yes" if that finding is meant, or {error.right}'
        raise Wrong(error.wrong, right) from None


def _compared(words: dict[str, str]) -> dict[str, str]:
    return {word.strip().casefold(): ours for word, ours in words.items()}


def several_in(word: str) -> dict[str, str]:
    """Return the findings that one word sets, where it sets several.

    >>> several_in("drum_seen = full; perforation = central")
    {'drum_seen': 'full', 'perforation': 'central'}
    """
    if "=" not in word:
        return {}
    found = _SEVERAL.findall(word)
    whole = "".join(_SEVERAL.split(word)[::3]).strip()
    return {} if whole else dict(found)


def refuse_misspelt(table: Table, kind: FileKind[Any], ignored: Sequence[str]) -> None:
    """Let no file land whose heading is nearly a column of an ear: its findings would be lost.

    Raises:
        InputError: with the heading, and what it may have been meant for.
    """
    ears = [c.name for c in kind.columns if c.name.startswith(SIDED)]
    for heading in ignored if ears else ():
        name = fold(heading)
        near = difflib.get_close_matches(name, ears, 1, _NEARLY)
        if not near and not name.startswith(SIDED):
            continue
        column = near[0] if near else "any column of an ear"
        raise InputError(
            f"{table.path.name}: the heading {heading!r} is no column, and nearly {column}.",
            hint="Correct the heading, or map it in the configuration.",
        )


def absent_headings(
    table: Table,
    kind: FileKind[Any],
    there: Collection[str],
    ignored: Sequence[str],
    given: FileMap,
) -> tuple[str, ...]:
    """Return the mapped headings that a file does not hold: what they would say stays as it is.

    `there` are the columns found in it, `ignored` the headings that nothing is read from. One
    of these that is nearly a mapped heading was meant for it, as far as anybody can tell.

    Raises:
        InputError: a column is missing without which nobody knows who or when; or misspelt.
    """
    mapped = {fold(name): heading for name, heading in given.headings.items()}
    kept = {fold(heading) for heading in given.notes}
    free = [heading for heading in ignored if fold(heading) not in kept]
    absent = []
    for column in (c for c in kind.columns if c.name not in there):
        heading = mapped.get(fold(column.name), "")
        least = _LIKE_OF_AN_EAR if column.name.startswith(SIDED) else _LIKE
        alike = _LIKE_NEEDED if column.needed else least
        near = _meant_for(heading or column.name, free, alike)
        if column.needed:
            raise _missing(table, kind, column, heading, near)
        if heading and near:
            raise InputError(
                f"{table.path.name}: there is no column {heading!r} ({column.says}), and nothing "
                f"is read from {near!r}, which is nearly that.",
                hint="Correct the heading, or the mapping; if it is something else, take "
                f"import.{kind.name}.headings.{column.name} out of the configuration.",
            )
        if heading:
            absent.append(heading)
    return tuple(absent)


def _meant_for(wanted: str, free: Sequence[str], alike: float) -> str:
    """Return the heading that is most like the wanted one; other figures are another column."""
    name = fold(wanted)
    same = {fold(h): h for h in free if _FIGURES.findall(h) == _FIGURES.findall(wanted)}
    return next((same[near] for near in difflib.get_close_matches(name, same, 1, alike)), "")


def _missing(
    table: Table, kind: FileKind[Any], column: Column, heading: str, near: str
) -> InputError:
    perhaps = f"Perhaps it is {near!r}: map" if near else "Map"
    return InputError(
        f"{table.path.name}: there is no column {heading or column.name!r} ({column.says}).",
        hint=f"{perhaps} it as import.{kind.name}.headings.{column.name} in the configuration.",
    )
