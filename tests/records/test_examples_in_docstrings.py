"""The examples written in the docstrings of this room hold."""

from __future__ import annotations

import pytest

from tests.examples import hold, with_examples


@pytest.mark.parametrize("name", with_examples("recall/records"))
def test_examples_hold(name: str) -> None:
    assert hold(name)
