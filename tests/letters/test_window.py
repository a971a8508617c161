"""Where things stand on a standard sheet, measured on the finished PDF.

Sources: DL envelope 110 x 220 mm (ISO 269). Address field of DIN 5008 / DIN 676 form B: x 20, y 45,
85 x 45 mm; folds of form B are not used. Window of the usual British DL envelope: 35 x 90 mm, 20 mm
from the left, 18 mm from the bottom (trade standard after BS 4264; common practice, from memory).
Of an A4 sheet folded in thirds of 99 mm, with 11 mm of slack upwards and 10 mm sideways, that
window always shows x 20-100, y 57-81 mm and can show x 10-110, y 46-92 mm (worked out by hand).
"""

from __future__ import annotations

import unicodedata

import pytest

from recall.letters import sample
from recall.letters.data import KINDS
from tests.letters.printed import Glyph, Print, joined

ALWAYS_SEEN = (20.0, 100.0, 57.0, 81.0)
EVER_SEEN = (10.0, 110.0, 46.0, 92.0)
TOUCH = 0.3
"""Half a stroke's width of tolerance, in mm: boxes of glyphs are wider than their ink."""
STANDARD = [
    *(f"{kind}.standard" for kind in KINDS),
    *(f"{kind}.cy" for kind in KINDS),
    *(f"awkward.{index}" for index in range(len(sample.AWKWARD))),
]


def _touches(glyph: Glyph, zone: tuple[float, float, float, float]) -> bool:
    left, right, top, bottom = zone
    across = glyph.right > left and glyph.left < right
    return across and glyph.bottom > top and glyph.top < bottom


@pytest.mark.parametrize("number", STANDARD)
def test_window_shows_the_address_and_nothing_else(printed: Print, number: str) -> None:
    letter = next(x for x in printed.letters if x.number == number)
    seen = [g for g in printed.first_page(number) if _touches(g, EVER_SEEN)]

    assert _counted(seen, number) == _counted(joined("".join(letter.address)), number)


BUILT_FROM_PARTS = {"awkward.2": sample.AWKWARD[2], "awkward.6": sample.AWKWARD[6]}
"""Arabic and Vietnamese: one character may be several glyphs, so kinds are compared, not counts."""


def _counted(glyphs: list[Glyph] | str, number: str) -> list[str]:
    found = "".join(g if isinstance(g, str) else g.text for g in glyphs)
    if number in BUILT_FROM_PARTS:
        bare = unicodedata.normalize("NFD", unicodedata.normalize("NFKC", found))
        return sorted({c for c in bare if not unicodedata.combining(c)})
    return sorted(found)


@pytest.mark.parametrize("number", STANDARD)
def test_whole_address_is_inside_what_is_always_seen(printed: Print, number: str) -> None:
    left, right, top, bottom = ALWAYS_SEEN
    seen = [g for g in printed.first_page(number) if _touches(g, EVER_SEEN)]

    assert min(g.left for g in seen) >= left - TOUCH
    assert max(g.right for g in seen) <= right + TOUCH
    assert min(g.top for g in seen) >= top - TOUCH
    assert max(g.bottom for g in seen) <= bottom + TOUCH


def test_what_is_always_seen_lies_in_the_field_of_din_5008_form_b() -> None:
    left, right, top, bottom = ALWAYS_SEEN

    assert left >= 20
    assert right <= 20 + 85
    assert top >= 45
    assert bottom <= 45 + 45


@pytest.mark.parametrize("kind", KINDS)
def test_large_print_is_18_point_or_more_throughout(printed: Print, kind: str) -> None:
    """UKAAF G003: large print is 16 point or more, 18 usual."""
    letter = next(p for p in printed.report.placed if p.number == f"{kind}.large")
    pages = printed.pages[letter.first_page - 1 : letter.last_page]
    sizes = {round(g.points, 1) for page in pages for g in page}

    assert min(sizes) >= 18


@pytest.mark.parametrize("kind", KINDS)
def test_standard_print_is_12_point_or_more(printed: Print, kind: str) -> None:
    """UKAAF G003: clear print is 12 point at least."""
    page = printed.first_page(f"{kind}.standard")

    assert min(round(g.points, 1) for g in page) >= 12


def test_large_print_is_not_the_standard_sheet_made_bigger(printed: Print) -> None:
    """The addressee of the large sheet stands elsewhere, below the practice."""
    page = printed.first_page("invitation_adult.large")

    assert min(g.left for g in page) > 20
    assert max(g.right for g in page) <= 210 - 20
