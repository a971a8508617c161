"""What a practice adopted stays readable: a register outlives the version that wrote it."""

from __future__ import annotations

import json
import lzma
from pathlib import Path
from typing import Any

import pytest

from recall.protocol.loading import content_of, from_content

KEPT = sorted(Path(__file__).parent.glob("adopted-*.json.xz"))
"""Contents as registers keep them, a file for each day on which one was kept."""


def missing(old: Any, new: Any, where: str = "") -> list[str]:
    """Return where something that was said is not said any more; a new field may be there."""
    if isinstance(old, dict) and isinstance(new, dict):
        gone = [f"{where}/{key}" for key in old if key not in new]
        both = [
            missing(value, new[key], f"{where}/{key}") for key, value in old.items() if key in new
        ]
        return gone + [place for places in both for place in places]
    if isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        pairs = enumerate(zip(old, new, strict=True))
        return [place for n, (a, b) in pairs for place in missing(a, b, f"{where}/{n}")]
    return [] if old == new else [where]


@pytest.mark.parametrize("kept", KEPT, ids=lambda file: file.name)
def test_what_was_adopted_then_is_read_whole(kept: Path) -> None:
    content = lzma.decompress(kept.read_bytes())
    said = json.loads(content)

    assert len(said[0]["rule"]) > 400
    assert missing(said, json.loads(content_of(from_content(content)))) == []


def test_there_are_some() -> None:
    assert KEPT
