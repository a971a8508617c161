"""Phone numbers as people write them into a cell: taken apart, or left for a person to read.

The numbers are of the ranges that Ofcom keeps for drama; how cells are written is common
practice, no published source.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.exchange.phone_cells import phone_cell

MUM, DAD, HOME = "+447700900004", "+447700900005", "+441632960123"


def told(cell: str) -> list[tuple[str, str]]:
    return [(n.given.value or n.given.raw, n.label) for n in phone_cell(cell).numbers]


@pytest.mark.parametrize(
    ("cell", "numbers"),
    [
        ("07700 900004", [(MUM, "")]),
        ("07700 900004 (mum)", [(MUM, "mum")]),
        ("Mum 07700 900004", [(MUM, "Mum")]),
        ("07700 900004 (after 6pm)", [(MUM, "after 6pm")]),
        ("07700 900004 (son, Bob or Jim)", [(MUM, "son, Bob or Jim")]),
        ("07700 900004 or 01632 960123", [(MUM, ""), (HOME, "")]),
        ("07700900004/01632960123", [(MUM, ""), (HOME, "")]),
        ("07700900004,07700900005", [(MUM, ""), (DAD, "")]),
        ("07700 900004\n07700 900005", [(MUM, ""), (DAD, "")]),
        ("07700 900004 07700 900005", [(MUM, ""), (DAD, "")]),
        ("07700 900004 mum 07700 900005 dad", [(MUM, "mum"), (DAD, "dad")]),
        ("mum 07700 900004 dad 07700 900005", [(MUM, "mum"), (DAD, "dad")]),
        ("07700 900004 (mum), dad 07700 900005", [(MUM, "mum"), (DAD, "dad")]),
        ("home: 01632 960123; mobile: 07700 900004", [(HOME, "home"), (MUM, "mobile")]),
        ("07700 900004, or after 5 01632 960123", [(MUM, ""), (HOME, "after 5")]),
        ("01632/960123", [(HOME, "")]),
        ("01632 960123 ext 12", [(HOME, "")]),
        ("work 01632 960123 ext 12", [(HOME, "work, ext 12")]),
    ],
)
def test_a_cell_is_taken_apart_with_whose_each_number_is(cell, numbers):
    assert told(cell) == numbers
    assert phone_cell(cell).wrong == ""


def test_an_extension_stays_with_the_number_that_is_shown():
    (number,) = phone_cell("01632 960123 ext 12").numbers

    assert number.given.raw == "01632 960123 ext 12"


@pytest.mark.parametrize(
    "cell", ["ask mum", "same as Jane", "077OO 900004", "01632 96012", "4.47701E+11", "999"]
)
def test_what_would_have_to_be_guessed_stays_as_it_was_written(cell):
    assert told(cell) == [(cell, "")]
    assert phone_cell(cell).wrong and phone_cell(cell).right


def test_of_two_numbers_the_one_that_cannot_be_is_kept_too():
    assert told("07700 900004 or 01632 9601 (dad)") == [(MUM, ""), ("01632 9601", "dad")]
    assert phone_cell("07700 900004 or 01632 9601").wrong == "no such number can exist"


def test_digits_that_nothing_explains_are_shown_with_the_whole_cell():
    assert told("07700 900004/5") == [(MUM, "07700 900004/5")]


@given(st.text(alphabet="0123456789 +()/-,;ormuOA\n", max_size=60))
def test_no_long_row_of_digits_is_ever_dropped(cell):
    digits = {c for c in cell if c.isdigit()}
    kept = "".join(n.given.raw + n.label for n in phone_cell(cell.strip()).numbers)

    assert digits <= set(kept)
    assert phone_cell(cell.strip()).numbers
