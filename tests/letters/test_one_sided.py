"""No page of one letter is the back of another's: the PDF asks for it, or every back is empty."""

from __future__ import annotations

from pathlib import Path

import pikepdf
import pytest
from pypdf import PdfReader

from recall.errors import LetterError
from recall.letters import sample
from recall.letters.compose import compose
from recall.letters.composed import ComposedLetter
from recall.letters.one_sided import ask_one_sided
from recall.letters.pages import Placed, make_pdf
from recall.letters.wording import Wording


@pytest.fixture(scope="module")
def letters() -> list[ComposedLetter]:
    """One page, two pages, one page, two pages: the second and fourth in large print."""
    sizes = ("standard", "large") * 2
    made = [
        sample.letter("reminder", number=f"L-{n}", size=size)  # type: ignore[arg-type]
        for n, size in enumerate(sizes, 1)
    ]
    return [compose(one, Wording()) for one in made]


def test_the_pages_ask_for_one_side_of_the_paper(
    letters: list[ComposedLetter], tmp_path: Path
) -> None:
    """ISO 32000-1, table 150: the viewer preference Duplex, with the value Simplex."""
    out = tmp_path / "letters.pdf"
    make_pdf(letters, out)

    with pikepdf.open(out) as pdf:
        assert pdf.Root.ViewerPreferences.Duplex == pikepdf.Name.Simplex
        assert pdf.Root.ViewerPreferences.DisplayDocTitle  # nothing else was lost
        assert pdf.check_pdf_syntax() == []
    assert PdfReader(out, strict=True).root_object["/ViewerPreferences"]["/Duplex"] == "/Simplex"


def test_a_letter_may_begin_on_a_sheet_of_its_own(
    letters: list[ComposedLetter], tmp_path: Path
) -> None:
    out = tmp_path / "letters.pdf"
    found = make_pdf(letters, out, whole_sheets=True)

    assert found.placed == (
        *(Placed("L-1", 1, 1), Placed("L-2", 3, 4)),
        *(Placed("L-3", 5, 5), Placed("L-4", 7, 8)),
    )
    texts = [page.extract_text().strip() for page in PdfReader(out).pages]
    assert [n for n, text in enumerate(texts, 1) if not text] == [2, 6]
    assert [text.splitlines()[-1].endswith("2 / 2") for text in texts if text].count(True) == 2


@pytest.mark.parametrize(
    "content", [b"", b"%PDF-1.7\n", b"/ViewerPreferences<<>>startxref\n9\n%%EOF"]
)
def test_what_is_built_otherwise_is_not_printed_without_the_wish(content: bytes) -> None:
    with pytest.raises(LetterError, match="one-sided"):
        ask_one_sided(content)
