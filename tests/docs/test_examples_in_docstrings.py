"""The examples written in docstrings hold, in the rooms that have no test of their own for it."""

from __future__ import annotations

import pytest

from tests.examples import ROOT, hold, with_examples

ELSEWHERE = {"care", "desk", "records"}
"""Rooms of which tests beside their own say the same."""
ROOMS = sorted(p.name for p in (ROOT / "recall").iterdir() if p.name not in ELSEWHERE)


@pytest.mark.parametrize("name", with_examples(*(f"recall/{room}" for room in ROOMS), "tui"))
def test_examples_hold(name: str) -> None:
    assert hold(name)
