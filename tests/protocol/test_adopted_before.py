"""What a practice adopted stays readable: a register outlives the version that wrote it."""

from __future__ import annotations

import lzma
from pathlib import Path

import pytest

from recall.protocol.loading import content_of, from_content

KEPT = sorted(Path(__file__).parent.glob("adopted-*.json.xz"))
"""Contents as registers keep them, a file for each day; a new field that is asked for, or one that
is gone, needs a way for these."""


@pytest.mark.parametrize("kept", KEPT, ids=lambda file: file.name)
def test_what_was_adopted_then_is_read_and_means_the_same(kept: Path) -> None:
    content = lzma.decompress(kept.read_bytes())

    assert content_of(from_content(content)) == content


def test_there_are_some() -> None:
    assert KEPT
