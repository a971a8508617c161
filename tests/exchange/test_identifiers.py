"""NHS numbers, phones, postcodes and e-mail addresses against their published rules."""

from __future__ import annotations

import nhs_number as nhs_oracle
import phonenumbers
import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.exchange import identifiers
from recall.exchange.identifiers import email, nhs_number, phone, postcode


@pytest.mark.parametrize(
    ("number", "valid"),
    [
        ("943 476 5919", True),
        ("943 476 5870", True),
        ("401 023 2137", True),
        ("943 476 5871", False),
        ("943 476 5918", False),
    ],
)
def test_nhs_numbers_pass_or_fail_by_their_check_digit(number, valid):
    """NHS Data Dictionary, NHS NUMBER: weights 10 to 2, modulus 11; sums worked by hand."""
    assert nhs_number(number).is_right is valid


def test_no_check_digit_fits_a_number_whose_remainder_gives_ten():
    """999 000 000x: weighted sum 243, remainder 1, so the check would be 10: none is valid."""
    assert not any(nhs_number(f"999000000{last}").is_right for last in range(10))


def test_exactly_one_check_digit_fits_123456788x():
    """Weighted sum 208, remainder 10, check digit 1."""
    assert [d for d in range(10) if nhs_number(f"123456788{d}").is_right] == [1]


@given(st.from_regex(r"[0-9]{10}", fullmatch=True))
def test_nhs_numbers_agree_with_another_library(number):
    """The check digit alone: the other library also refuses ranges nobody was given yet."""
    check = nhs_oracle.calculate_checksum(number[:9])

    assert nhs_number(number).is_right == (check is not None and check == int(number[9]))


@pytest.mark.parametrize(
    ("given_number", "wrong"),
    [
        ("943 476 591", "10 digits"),
        ("943 476 59X9", "other than digits"),
        ("94347659190", "10 digits"),
    ],
)
def test_wrong_nhs_numbers_are_kept_as_written_with_what_is_wrong(given_number, wrong):
    found = nhs_number(given_number)

    assert (found.raw, found.shown, found.value) == (given_number, given_number, "")
    assert wrong in found.wrong


@pytest.mark.parametrize("code", ["BFPO 801", "bfpo801"])
def test_forces_post_has_its_own_form(code):
    assert postcode(code).value == "BFPO 801"


def test_a_letter_typed_for_a_digit_is_suggested():
    assert postcode("M1 IAA").right == "perhaps M1 1AA"


def test_a_right_postcode_has_one_form_and_a_wrong_one_is_kept():
    assert postcode("ec1a1bb").value == "EC1A 1BB"
    assert postcode("QA1 1AA").wrong == "is not a postcode"


def test_other_countries_postcodes_are_taken_as_written():
    assert postcode("d-10115", "DE").value == "D-10115"


@pytest.mark.parametrize(
    ("written", "stored", "shown"),
    [
        ("01632 960123", "+441632960123", "01632 960123"),
        ("(01632) 960 123", "+441632960123", "01632 960123"),
        ("07700900123", "+447700900123", "07700 900123"),
        ("+44 7700 900123", "+447700900123", "07700 900123"),
        ("7700900123", "+447700900123", "07700 900123"),
        ("+49 30 12345678", "+493012345678", "+49 30 12345678"),
    ],
)
def test_phones_are_stored_in_e164_and_shown_as_dialled(written, stored, shown):
    """ITU-T E.164 for the stored form; Ofcom's drama ranges for the British numbers."""
    found = phone(written)

    assert (found.value, found.shown, found.wrong) == (stored, shown, "")


@pytest.mark.parametrize(
    ("written", "wrong"),
    [
        ("01632 96012", "can exist"),
        ("ask mum", "not a phone number"),
        ("4.47701E+11", "shortened by a spreadsheet"),
        ("01632 960123 / 07700 900123", "more than one"),
        ("999", "can exist"),
    ],
)
def test_wrong_phones_are_kept_as_written(written, wrong):
    found = phone(written)

    assert found.shown == written
    assert wrong in found.wrong


@pytest.mark.parametrize("country", ["GB", "IE", "AU", "ZA"])
def test_the_librarys_own_example_numbers_of_each_country_pass(country):
    number = phonenumbers.example_number(country)
    national = phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.NATIONAL)

    assert phone(national, country).is_right


@pytest.mark.parametrize("address", ["desk@example.org", "a.b+c@example.org", "ö@example.org"])
def test_addresses_of_valid_form_pass(address):
    assert email(address).value == address


@pytest.mark.parametrize("address", ["desk", "desk@", "desk@example", "a b@example.org", "@x.org"])
def test_addresses_of_wrong_form_are_kept_with_what_is_wrong(address):
    found = email(address)

    assert found.shown == address
    assert found.wrong and found.right


@given(st.text(max_size=60), st.sampled_from(["nhs_number", "phone", "postcode", "email"]))
def test_any_text_is_kept_and_never_crashes(text, name):
    found = getattr(identifiers, name)(text)

    assert found.raw == text
    assert bool(found.value) != bool(found.wrong)
