"""People from a file: what lands, what does not, and what is said."""

from __future__ import annotations

from datetime import date

import pytest

from recall.config import FileMap, Import

PERSON = {
    "reference": "P1",
    "given_name": "Ann",
    "family_name": "O'Brien-Łukasz",
    "born": "02/03/2018",
}


EVERYTHING = {
    "sex": "F",
    "nhs_number": "999 123 4578",
    "address_1": "3 Mill Lane",
    "address_3": "Wrenfield",
    "postcode": "wf994zz",
    "phone": "01632 960123",
    "phone_2": "07700 900123",
    "e-mail": "ann@example.org",
    "letter format": "plain text",
    "language": "cy",
    "risks": "down_syndrome; previous_grommet right since 2024-03",
    "adult_1_name": "Jo O'Brien",
    "adult_1_relation": "mother",
    "adult_1_phone": "07700 900124",
    "adult_2_name": "Sam Łukasz",
    "adult_2_relation": "father",
    "adult_2_address": "9 High Street, Wrenfield",
    "adult_2_safe_only": "yes",
    "objected": "no",
    "tell_gp": "yes",
}


def test_a_person_with_everything(read, only):
    row = only(
        read(
            "people",
            PERSON | EVERYTHING,
            imports=Import(
                people=FileMap(headings={"email": "E-Mail"}, values={"sex": {"f": "female"}})
            ),
        )
    )

    assert row.nhs_number.is_right
    assert (row.reference, row.born, row.sex) == ("P1", date(2018, 3, 2), "female")
    assert row.address == ("3 Mill Lane", "Wrenfield")
    assert row.postcode.value == "WF99 4ZZ"
    assert [n.given.value for n in row.phone_2.numbers] == ["+447700900123"]
    assert row.email.value == "ann@example.org"
    assert row.letter_format == "plain_text"
    assert [a.relation for a in row.adults] == ["parent", "parent"]
    assert row.adults[1].safe_only and row.adults[1].address == ("9 High Street", "Wrenfield")
    assert row.objected is False and row.tell_gp is True


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("nhs_number", "999 123 4579"),
        ("phone", "ask mum"),
        ("postcode", "somewhere"),
        ("email", "ann@"),
        ("adult_1_phone", "12"),
    ],
)
def test_a_wrong_identifier_never_loses_the_person(read, column, value):
    (one,) = read("people", PERSON | {"adult_1_name": "Jo", column: value})

    assert one.row is not None
    (problem,) = one.problems
    assert (problem.line, problem.column, problem.value, problem.kept) == (2, column, value, True)
    assert problem.wrong and problem.right


@pytest.mark.parametrize(
    ("column", "value", "wrong"),
    [
        ("born", "31/02/2018", "no day"),
        ("born", "26/11/2026", "after today"),
        ("born", "", "empty"),
        ("family_name", " ", "empty"),
        ("reference", "", "empty"),
        ("sex", "x", "not a known word"),
        ("risks", "diabetis", "not a known word"),
        ("deceased_on", "01/01/2018", "before the date of birth"),
        ("objected", "01/01/2018", "before the date of birth"),
        ("objected", "sometimes", "date"),
        ("given_name", "A\x00nn", "cannot be read"),
        ("given_name", "Jos\ufffd", "cannot be read"),
        ("language", "Welsh", "language tag"),
    ],
)
def test_a_bad_row_does_not_land_and_says_why(read, column, value, wrong, refusal):
    problem = refusal(read("people", PERSON | {column: value}))

    assert (problem.line, problem.column) == (2, column)
    assert wrong in problem.wrong
    assert problem.right


def test_a_number_of_an_adult_without_a_name_is_kept_as_the_persons_own(read, only):
    cells = {"adult_1_phone": "01632 960123", "adult_1_relation": "mother", "phone": "07700 900811"}
    row = only(read("people", PERSON | cells))
    (number,) = row.phone_2.numbers
    assert (number.given.value, number.label) == ("+441632960123", "parent, name not recorded")
    assert (row.adults, row.phone.numbers[0].given.value) == ((), "+447700900811")


def test_an_adult_without_a_name_is_refused_where_more_is_said_than_how_to_reach_them(
    read, refusal
):
    cells = {"adult_1_phone": "01632 960123", "adult_1_safe_only": "yes"}
    assert refusal(read("people", PERSON | cells)).column == "adult_1_name"


def test_objecting_can_be_a_day_or_a_plain_yes(read, only):
    assert only(read("people", PERSON | {"objected": "01/02/2026"})).objected_on == date(2026, 2, 1)
    row = only(read("people", PERSON | {"objected": "yes"}))
    assert (row.objected, row.objected_on) == (True, None)


def test_words_in_lists_are_mapped_one_by_one(read, only):
    words = {"diabetic": "diabetes", "HA": "hearing_aid", "smoker": ""}
    imports = Import(people=FileMap(values={"risks": words}))
    row = only(read("people", PERSON | {"risks": "Diabetic; smoker; HA"}, imports=imports))

    assert row.risks == ("diabetes", "hearing_aid")
