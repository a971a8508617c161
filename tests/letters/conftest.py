"""One printed batch that the tests of the pages share."""

from __future__ import annotations

import pytest

from recall.letters import sample
from recall.letters.compose import compose
from recall.letters.data import KINDS, LetterData
from recall.letters.wording import Wording
from tests.letters.printed import Print, print_and_read


def batch() -> list[LetterData]:
    """Return every kind in both sizes, Welsh too, and every awkward sample."""
    kinds = [
        sample.letter(kind, size=size, number=f"{kind}.{size}")
        for kind in KINDS
        for size in ("standard", "large")
    ]
    welsh = [sample.letter(kind, language="cy", number=f"{kind}.cy") for kind in KINDS]
    awkward = [
        sample.letter("invitation_child", who, number=f"awkward.{index}")
        for index, who in enumerate(sample.AWKWARD)
    ]
    return [*kinds, *welsh, *awkward]


@pytest.fixture(scope="session")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Print:
    """The batch, printed once and read back."""
    out = tmp_path_factory.mktemp("letters") / "letters.pdf"
    wording = Wording()
    return print_and_read([compose(data, wording) for data in batch()], out)
