"""The practice's words in ours: for one column, for both ears, for every column at once."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from typing import Any

from recall.config import FileMap
from recall.errors import InputError
from recall.exchange.kinds import Column, FileKind
from recall.exchange.tables_in import Table, fold

SIDED = ("right_", "left_")
"""How the columns of an ear begin."""
_NEARLY = 0.86
"""How alike a heading and a column of an ear are where it is taken for a slip."""
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
