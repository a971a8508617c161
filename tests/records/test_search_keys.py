"""What people are found by, worked out by hand. A scheme of our own: no published source."""

from __future__ import annotations

from datetime import date

import pytest

from recall.records.people.search_keys import (
    distance_within,
    keys_of,
    name_parts,
    phone_key,
    postcode_key,
    ref_key,
    ref_spellings,
    sound,
)


@pytest.mark.parametrize(
    ("part", "said"),
    [
        ("thompson", "tmsn"),  # th is t, no p before s, then no vowels and no h
        ("phillips", "fls"),  # ph is f, no p before s, one l
        ("llewellyn", "lln"),  # one l for two, no w, no y
        ("aoife", "af"),  # whatever vowel comes first is an a
        ("owen", "an"),
        ("ivy", "af"),
        ("hanna", "hn"),  # the first letter stays, be it an h
        ("o", "a"),
        ("gh", ""),  # nothing is left
        ("", ""),
        ("w42", ""),
        ("zoë", ""),
        ("أحمد", ""),
        ("o'neil", ""),
    ],
)
def test_how_a_name_sounds(part: str, said: str) -> None:
    assert sound(part) == said


@pytest.mark.parametrize(
    ("names", "parts"),
    [
        (("O'Neil",), {"oneil", "neil"}),
        (("D'Arc",), {"darc", "arc"}),
        (("D'Or",), {"dor"}),  # two letters by themselves would find half the register
        (("O’Neil-Smith", "Ann"), {"oneil", "neil", "smith", "ann"}),
        (("",), set()),
    ],
)
def test_the_words_of_a_name(names: tuple[str, ...], parts: set[str]) -> None:
    assert name_parts(*names) == parts


@pytest.mark.parametrize(
    "number", ["+441632960123", "00441632960123", "01632 960123", "1632960123", "(01632) 960-123"]
)
def test_a_number_is_kept_backwards_without_what_stands_before_it(number: str) -> None:
    assert phone_key(number) == "3210692361"


def test_everything_that_one_person_is_found_by() -> None:
    found = keys_of(
        ref=" W-1 ",
        names=("Ann", "Marsh"),
        born=date(1931, 5, 31),
        phones=["01632 960123"],
        postcodes=["WR9 4AB"],
        nhs_number="943 476 5919",
    )
    assert found == {
        ("ref", "w-1"),
        ("born", "1931-05-31"),
        ("name", "ann"),
        ("sound", "an"),
        ("name", "marsh"),
        ("sound", "mrs"),  # sh is s
        ("phone", "3210692361"),
        ("postcode", "wr94ab"),
        ("nhs", "9434765919"),
    }


def test_what_is_not_known_is_no_key() -> None:
    """A name in a script without our letters has no sound; an empty key would find everybody."""
    found = keys_of(ref="W1", names=("أحمد", ""), born=date(1971, 12, 1))
    assert {kind for kind, _key in found} == {"ref", "born", "name"}
    assert postcode_key(" wr9-4ab ") == "wr94ab"
    assert ref_key("  ÄB 1 ") == "ab 1"


def test_a_reference_is_meant_with_any_zeros_in_front_and_any_mark_between() -> None:
    numbers = ["5", "05", "005", "0005", "00005", "000005", "0000005", "00000005"]
    marks = ["", "-", " ", "/", "."]
    assert ref_spellings("w5") == {f"w{mark}{number}" for mark in marks for number in numbers}
    assert ref_spellings("W/0005") == ref_spellings("w5")


def test_a_number_by_itself_has_no_more_digits_than_references_have() -> None:
    assert ref_spellings("1234567") == {"1234567", "01234567"}
    assert ref_spellings("12345678") == {"12345678"}
    assert ref_spellings("123456789") == {"123456789"}
    assert ref_spellings("000") == {"0" * many for many in range(1, 9)}


def test_two_numbers_of_a_reference_stay_two_numbers() -> None:
    assert ref_spellings("1234567-12345678") == {
        f"{zero}1234567{mark}12345678" for zero in ("", "0") for mark in ("-", " ", "/", ".")
    }


def test_a_reference_that_may_mean_too_many_means_itself_only() -> None:
    """Four ways for each number and five for each mark: 4 x 5 x 5 x 4 is 400, the most."""
    assert len(ref_spellings("12345a12345")) == 400
    assert ref_spellings("12345a1234") == {"12345a1234"}  # 4 x 5 x 5 x 5 is 500
    assert ref_spellings("-") == {"-"}


@pytest.mark.parametrize(
    ("one", "other", "wrong"),
    [
        ("marsh", "marsh", 0),
        ("marsh", "march", 1),  # another letter
        ("marsh", "mars", 1),  # one missing
        ("ann", "hann", 1),  # one too many
        ("", "a", 1),
        ("a", "", 1),
        ("ab", "ba", 1),  # swapped, at the very beginning
        ("marsh", "marhs", 1),  # and at the end
        ("marsh", "amrsh", 1),
        ("marsh", "maxxh", 2),
        ("marsh", "mash", 1),
        ("marsh", "marshal", 2),
        ("thompson", "htompsno", 2),
        ("abc", "cba", 2),
        ("kitten", "sitting", 3),
        ("ca", "abc", 3),  # a swapped pair is not changed again
        ("abcd", "badc", 2),
    ],
)
def test_how_many_letters_are_wrong(one: str, other: str, wrong: int) -> None:
    """Optimal string alignment; kitten and sitting, ca and abc are its usual worked examples."""
    assert [most for most in range(5) if distance_within(one, other, most)] == list(range(wrong, 5))
    assert [most for most in range(5) if distance_within(other, one, most)] == list(range(wrong, 5))
