"""What the tests of commands share."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.stepped_once import stepped_once


@pytest.fixture(scope="package", autouse=True)
def registers_stepped_once() -> Iterator[None]:
    """Let only the first register of these tests go through the migrations."""
    with stepped_once():
        yield
