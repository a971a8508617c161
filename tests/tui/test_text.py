"""What people typed, on a screen: literal, on one line, in so many cells."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
import re
import unicodedata
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from textual.content import Content

import tui
from recall.loop.referral import Stage
from tui.people.card import AWAITED
from tui.words.text import cut, literal, plain, wrapped


@given(st.text())
def test_nothing_that_moves_or_hides_is_left(text: str) -> None:
    kept = plain(text)

    assert [c for c in kept if unicodedata.category(c) in ("Cc", "Cs", "Co")] == []
    assert [c for c in kept if c in "\u202a\u202b\u202d\u202e\u2066\u2067\u2068\u2069"] == []


@given(st.text(), st.integers(0, 60))
def test_a_cut_text_fills_exactly_its_cells(text: str, width: int) -> None:
    assert cell_len(cut(text, width)) == width


@given(st.text(), st.integers(2, 60))
def test_wrapped_lines_fit_and_lose_nothing(text: str, width: int) -> None:
    lines = wrapped(text, width)

    assert all(cell_len(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(plain(text).split())


@pytest.mark.parametrize("text", ["Ann [dec] Lee", "[/b]", "O'Neil [/x] [Jr", "$desk-alarm", "[["])
def test_brackets_are_text(text: str) -> None:
    """As markup they would vanish, or end the program."""
    assert literal(text).plain == text
    assert isinstance(literal(text), Content)


@pytest.mark.parametrize(
    "name", sorted(m.name for m in pkgutil.walk_packages(tui.__path__, "tui."))
)
def test_examples_in_docstrings(name: str) -> None:
    module = importlib.import_module(name)
    finder = doctest.DocTestFinder(exclude_empty=True)
    runner = doctest.DocTestRunner()
    for found in finder.find(module, name):
        runner.run(found)

    assert runner.failures == 0


def test_every_stage_of_a_referral_that_is_awaited_has_its_words() -> None:
    """A stage that is not known must not read as one that is."""
    assert set(AWAITED) == set(get_args(Stage)) - {"known", "closed"}
    assert all(re.search(r"\b([Nn]ot|awaited)\b", words) for words in AWAITED.values())
