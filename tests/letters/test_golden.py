"""The whole text of each English letter and call, byte for byte.

After a wanted change of wording: run this file as a script to rewrite golden/, then read the
difference before committing it.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from recall.letters import sample
from recall.letters.compose import mail, script
from recall.letters.data import KINDS, Kind
from recall.letters.wording import Wording

GOLDEN = Path(__file__).parent / "golden"


def made(kind: Kind) -> dict[str, str]:
    """Return the text of each file of a kind, by name."""
    data = sample.letter(kind)
    return {
        f"{kind}.txt": mail(data, Wording()).text,
        f"spoken_{kind}.txt": script(data, Wording()).text,
    }


@pytest.mark.parametrize("kind", KINDS)
def test_text_is_the_one_that_was_read_and_agreed(kind: Kind) -> None:
    kept = {name: (GOLDEN / name).read_bytes().decode() for name in made(kind)}

    assert made(kind) == kept


def test_no_golden_text_is_left_over() -> None:
    names = {name for kind in KINDS for name in made(kind)}

    assert {path.name for path in GOLDEN.iterdir()} == names


if __name__ == "__main__":
    for each in KINDS:
        for name, text in made(each).items():
            (GOLDEN / name).write_bytes(text.encode())
