"""The PDF: tagged, whole, the same again; and what is held back."""

from __future__ import annotations

import errno
import os
import re
from pathlib import Path

import pdfplumber
import pikepdf
import pytest

from recall.errors import InputError, LetterError
from recall.letters import pages, sample
from recall.letters.compose import compose
from recall.letters.composed import Block, ComposedLetter
from recall.letters.data import RECALL_KINDS
from recall.letters.pages import Held, Placed, make_pdf
from recall.letters.wording import Wording
from recall.output import PDF_MARK
from tests.letters.printed import Print, joined


def _letter(number: str = "L-0001", **changes: object) -> ComposedLetter:
    made = compose(sample.letter("invitation_adult", number=number), Wording())
    fields = {name: getattr(made, name) for name in made.__struct_fields__}
    return ComposedLetter(**{**fields, **changes})  # type: ignore[arg-type]


def test_pdf_is_tagged_and_says_that_it_is_pdf_ua_1(printed: Print) -> None:
    """ISO 14289-1 (PDF/UA-1) 5, 7.1, 7.2: marked, structured, titled, with a language."""
    assert printed.report.path is not None
    with pikepdf.open(printed.report.path) as pdf:
        root = pdf.Root

        assert bool(root.MarkInfo.Marked)
        assert "/StructTreeRoot" in root
        assert str(root.Lang) == "en"
        assert bool(root.ViewerPreferences.DisplayDocTitle)
        with pdf.open_metadata() as facts:
            assert facts["pdfuaid:part"] == "1"
            assert facts["dc:title"] == "Letters"


def test_structure_holds_a_heading_and_paragraphs_for_every_letter(printed: Print) -> None:
    assert printed.report.path is not None
    with pikepdf.open(printed.report.path) as pdf:
        roles = [str(o.S) for o in pdf.objects if _is_structure(o)]

    assert roles.count("/H1") == len(printed.letters)
    assert roles.count("/P") > len(printed.letters)
    assert "/L" in roles


def _is_structure(found: object) -> bool:
    return (
        isinstance(found, pikepdf.Dictionary) and "/S" in found and "/K" in found and "/P" in found
    )


def test_welsh_text_is_marked_as_welsh(printed: Print) -> None:
    assert printed.report.path is not None
    with pikepdf.open(printed.report.path) as pdf:
        marked = {str(o.Lang) for o in pdf.objects if _is_structure(o) and "/Lang" in o}

    assert "cy" in marked


def test_every_font_is_embedded_and_our_own(printed: Print) -> None:
    assert printed.report.path is not None
    with pikepdf.open(printed.report.path) as pdf:
        described = [o for o in pdf.objects if isinstance(o, pikepdf.Dictionary)]
        fonts = [o for o in described if o.get("/Type") == pikepdf.Name.FontDescriptor]

    assert fonts
    assert all("/FontFile2" in f or "/FontFile3" in f for f in fonts)
    assert all("NotoSans" in str(f.FontName) for f in fonts)


def test_printing_again_makes_the_same_bytes(tmp_path: Path) -> None:
    letters = [_letter("L-1"), _letter("L-2", size="large")]
    make_pdf(letters, tmp_path / "first.pdf")
    make_pdf(letters, tmp_path / "again.pdf")

    assert (tmp_path / "first.pdf").read_bytes() == (tmp_path / "again.pdf").read_bytes()


@pytest.mark.parametrize("kind", RECALL_KINDS)
@pytest.mark.parametrize("language", ["standard", "cy"])
def test_standard_letter_to_a_person_is_one_page(printed: Print, kind: str, language: str) -> None:
    placed = next(p for p in printed.report.placed if p.number == f"{kind}.{language}")

    assert placed.first_page == placed.last_page


def test_letters_of_several_pages_are_numbered_on_each(printed: Print) -> None:
    text = printed.text("referral.large")

    assert "referral.large 1 / " in text and "referral.large 2 / " in text


def test_report_says_on_which_pages_each_letter_is(tmp_path: Path) -> None:
    letters = [_letter("L-1"), _letter("L-2", size="large"), _letter("L-3")]
    report = make_pdf(letters, tmp_path / "letters.pdf")

    assert report.placed == (Placed("L-1", 1, 1), Placed("L-2", 2, 3), Placed("L-3", 4, 4))


@pytest.mark.parametrize("index", range(len(sample.AWKWARD)))
def test_all_text_prints_as_it_was_written(printed: Print, index: int) -> None:
    """Markup, placeholders and marks of any kind are only text; invisible controls are gone."""
    letter = next(x for x in printed.letters if x.number == f"awkward.{index}")
    text = joined(printed.text(letter.number))
    left_to_right = [s for s in letter.strings() if not _has_arabic(s)]

    assert [s for s in left_to_right if not _is_in(joined(s), text)] == []
    assert not set(text) & set("\u202e\u2066\x07")


def _is_in(wanted: str, text: str) -> bool:
    """Look for a string; an accent that the font builds from parts may read back as two."""
    return re.search(".?".join(map(re.escape, wanted)), text) is not None


def _has_arabic(text: str) -> bool:
    return any("\u0600" <= c <= "\u06ff" for c in text)


def test_arabic_name_is_on_the_page(printed: Print) -> None:
    """Read back it comes in the order or the shapes of the page, so letters are compared."""
    page = printed.first_page("awkward.2")
    arabic = {g.text for g in page if _has_arabic(g.text) or g.text > "\ufb50"}

    assert len(arabic) >= 8


def test_mark_at_the_beginning_of_a_name_makes_no_block() -> None:
    data = sample.letter("invitation_child", sample.AWKWARD[12])
    body = compose(data, Wording()).body

    assert not any(line == "dash > more # h" for block in body for line in block.lines)


def test_name_that_the_fonts_cannot_show_holds_back_that_letter_only(tmp_path: Path) -> None:
    letters = [_letter("L-1"), _letter("L-2", address=("木村", "7 Teasel Row")), _letter("L-3")]
    report = make_pdf(letters, tmp_path / "letters.pdf")

    assert [placed.number for placed in report.placed] == ["L-1", "L-3"]
    assert [held.number for held in report.held] == ["L-2"]
    assert "U+6728 CJK UNIFIED IDEOGRAPH-6728" in report.held[0].because


@pytest.mark.parametrize(
    ("address", "because"),
    [
        (("Ida Thackwell",), "no postal address"),
        (tuple(f"Line {n}" for n in range(9)), "does not fit the window"),
        (("Ida Thackwell", "W" * 60), "does not fit the window"),
    ],
)
def test_address_that_cannot_be_posted_holds_the_letter(
    tmp_path: Path, address: tuple[str, ...], because: str
) -> None:
    report = make_pdf([_letter(address=address)], tmp_path / "letters.pdf")

    assert report.path is None
    assert because in report.held[0].because


def test_letter_that_the_page_refuses_is_found_among_many(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A character slips past the check before: halving finds the one letter."""
    monkeypatch.setattr(pages, "unprintable", lambda letter: "")
    bad = _letter("bad", body=(Block(kind="heading", lines=("木",)),))
    letters = [*(_letter(f"L-{n}") for n in range(5)), bad, _letter("L-9")]
    report = make_pdf(letters, tmp_path / "letters.pdf")

    assert [held.number for held in report.held] == ["bad"]
    assert "could not be displayed" in report.held[0].because
    assert len(report.placed) == 6


def test_batch_with_nothing_to_print_leaves_no_file(tmp_path: Path) -> None:
    report = make_pdf([], tmp_path / "letters.pdf")

    assert report == pages.PdfReport(None, (), ())
    assert list(tmp_path.iterdir()) == []


def test_too_large_a_batch_is_refused_before_anything_is_made(tmp_path: Path) -> None:
    letters = [_letter()] * (pages.LARGEST_BATCH + 1)

    with pytest.raises(LetterError, match="portions of at most"):
        make_pdf(letters, tmp_path / "letters.pdf")


def test_missing_folder_is_said_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="choose another folder"):
        make_pdf([_letter()], tmp_path / "nowhere" / "letters.pdf")


def test_full_disk_leaves_the_old_file_and_no_half_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "letters.pdf"
    last_week = b"%PDF-1.7 last week's\n" + PDF_MARK
    out.write_bytes(last_week)

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="No space left on device"):
        make_pdf([_letter()], out)

    assert out.read_bytes() == last_week
    assert list(tmp_path.iterdir()) == [out]


def test_press_that_dies_is_said_and_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages, "LAYOUT", tmp_path / "gone")
    with pytest.raises(LetterError, match="could not be made"):
        make_pdf([_letter()], tmp_path / "letters.pdf")

    assert list(tmp_path.iterdir()) == []


def test_held_letters_are_named_by_number_never_by_name(tmp_path: Path) -> None:
    report = make_pdf([_letter("L-7", address=("木村 Ida",))], tmp_path / "letters.pdf")

    assert isinstance(report.held[0], Held)
    assert "Ida" not in report.held[0].because


@pytest.mark.parametrize("size", ["standard", "large"])
def test_what_stands_over_something_is_never_the_last_of_its_page(
    size: str, tmp_path: Path
) -> None:
    """A heading, and a line that ends with a colon, over a list, wherever the page breaks."""
    head = (
        Block(kind="heading", lines=("What stands over it",)),
        Block(kind="text", lines=("Right ear:",)),
        Block(kind="list", lines=("first thing", "second thing", "third thing")),
    )
    letters = [
        _letter(
            f"L-{filled}",
            size=size,
            body=(Block(kind="list", lines=("filled",) * filled), *head),
        )
        for filled in range(8, 40)
    ]
    make_pdf(letters, tmp_path / "letters.pdf")

    with pdfplumber.open(tmp_path / "letters.pdf") as pdf:
        texts = [page.extract_text().splitlines() for page in pdf.pages]
    last = [[line for line in lines if not line.startswith("L-")][-1] for lines in texts]
    assert len(texts) > len(letters)
    assert "What stands over it" not in last and "Right ear:" not in last
