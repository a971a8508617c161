"""Postcodes against their published forms, and against the letters that may stand in each place.

Royal Mail's note on the postcode format, which BS 7666 follows: the six forms with an example
of each, and the letters by position, given here as the note gives them: by what is excluded in
the first, second and last places, by what is used in the third and fourth.
"""

from __future__ import annotations

import doctest
import re
from string import ascii_uppercase, digits

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.exchange import postcodes
from recall.exchange.postcodes import FORMS, perhaps, tidied

PUBLISHED = {
    "A9 9AA": "M1 1AA",
    "A99 9AA": "M60 1NW",
    "AA9 9AA": "CR2 6XH",
    "AA99 9AA": "DN55 1PT",
    "A9A 9AA": "W1A 1HQ",
    "AA9A 9AA": "EC1A 1BB",
}
NEVER_FIRST, NEVER_SECOND, NEVER_LAST = "QVX", "IJZ", "CIKMOV"
THIRD = "ABCDEFGHJKPSTUW"
FOURTH = "ABEHMNPRVWXY"
GOVERNMENT = re.compile(
    "([Gg][Ii][Rr] 0[Aa]{2})|((([A-Za-z][0-9]{1,2})|(([A-Za-z][A-Ha-hJ-Yj-y][0-9]{1,2})|"
    "(([A-Za-z][0-9][A-Za-z])|([A-Za-z][A-Ha-hJ-Yj-y][0-9]?[A-Za-z])))) [0-9][A-Za-z]{2})"
)
"""Bulk data transfer: additional validation for CAS upload, 12 November 2015, section 3.1."""


def with_sign(code: str, place: int, sign: str) -> str:
    """Return a postcode with another sign in one place."""
    return code[:place] + sign + code[place + 1 :]


def stands(code: str, place: int, among: str = ascii_uppercase) -> set[str]:
    """Return the signs that may stand in one place of a right postcode."""
    return {sign for sign in among if tidied(with_sign(code, place, sign))}


def test_the_forms_are_the_published_ones() -> None:
    assert set(FORMS) == set(PUBLISHED)


@pytest.mark.parametrize("code", [*PUBLISHED.values(), "GIR 0AA"])
def test_every_published_form_passes_however_it_is_typed(code: str) -> None:
    bare, wide = code.replace(" ", ""), code.replace(" ", "  ")
    for typed in (code, code.lower(), bare, wide, f"  {code} ", code.replace(" ", "\u00a0")):
        assert tidied(typed) == code


@pytest.mark.parametrize("code", PUBLISHED.values())
def test_first_letter_is_never_one_of_the_excluded(code: str) -> None:
    assert stands(code, 0) == set(ascii_uppercase) - set(NEVER_FIRST)


@pytest.mark.parametrize("form", ["AA9 9AA", "AA99 9AA", "AA9A 9AA"])
def test_second_letter_is_never_one_of_the_excluded(form: str) -> None:
    assert stands(PUBLISHED[form], 1) == set(ascii_uppercase) - set(NEVER_SECOND)


def test_the_letter_in_third_place_is_one_of_those_used() -> None:
    assert stands(PUBLISHED["A9A 9AA"], 2) == set(THIRD)


def test_the_letter_in_fourth_place_is_one_of_those_used() -> None:
    assert stands(PUBLISHED["AA9A 9AA"], 3) == set(FOURTH)


@pytest.mark.parametrize("code", PUBLISHED.values())
def test_last_two_letters_are_never_of_the_excluded(code: str) -> None:
    for place in (-2, -1):
        assert stands(code, len(code) + place) == set(ascii_uppercase) - set(NEVER_LAST)


@pytest.mark.parametrize(("form", "code"), PUBLISHED.items())
def test_any_digit_may_stand_where_a_digit_must_and_no_letter(form: str, code: str) -> None:
    # After one letter, or two, and a digit, the next place takes a digit or a letter: two forms.
    for place in (i for i, kind in enumerate(form) if kind == "9"):
        assert stands(code, place, digits) == set(digits)
    assert stands(code, code.index(" ") + 1) == set()


@pytest.mark.parametrize("code", ["GIR 1AA", "GIR 0AB", "GIR", "GI1 0AA", "GR 0AA"])
def test_the_bank_has_one_postcode_and_no_other(code: str) -> None:
    assert not tidied(code)


@pytest.mark.parametrize(
    "code",
    ["M١ 1AA", "ſ1 1AA", "M1", "", "12345", "M1 1AAA", "M1 1A", "M111 1AA", "ABC1 1AA", "M 1 1AA"],
)
def test_what_only_resembles_a_postcode_fails(code: str) -> None:
    assert not tidied(code)


@given(st.from_regex(r"[A-Za-z]{1,3} ?[0-9][A-Za-z0-9]? ?[0-9][A-Za-z]{2}", fullmatch=True))
def test_what_passes_passes_the_governments_own_pattern(typed: str) -> None:
    """The pattern excludes less, so that the check goes one way."""
    code = tidied(typed)

    assert not code or GOVERNMENT.fullmatch(code)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("M1 IAA", "M1 1AA"), ("mi1aa", "M1 1AA"), ("DN55 IPT", "DN55 1PT"), ("0X1 3DP", "OX1 3DP")],
)
def test_a_letter_or_digit_taken_for_the_other_is_put_right(typed: str, meant: str) -> None:
    assert perhaps(typed) == (meant,)


def test_every_way_to_read_it_is_given() -> None:
    assert perhaps("SOO 1AA") == ("S00 1AA", "SO0 1AA")


@pytest.mark.parametrize("typed", ["", "hello", "QA1 1AA", "M١ IAA", "12345678"])
def test_what_no_slip_explains_stays_unexplained(typed: str) -> None:
    assert perhaps(typed) == ()


@given(st.text(max_size=12))
def test_whatever_is_suggested_is_a_right_postcode(text: str) -> None:
    assert all(tidied(code) == code for code in perhaps(text))


def test_examples_in_docstrings() -> None:
    assert doctest.testmod(postcodes).failed == 0
