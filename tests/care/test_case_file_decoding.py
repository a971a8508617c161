"""A case file is decoded whole, or refused with its path and what would be right."""

from __future__ import annotations

import json
from datetime import date

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings

from recall.care.case import Case
from recall.care.case_schema import schema
from recall.care.casefile import decode_case, decode_cases, decode_visit, encode
from recall.care.ear import EAR_FIELDS, Ear
from recall.errors import InputError
from tests.care.strategies import accepted, cases
from tests.seeds import examples

EXAMPLE = {
    "born": "2018-03-02",
    "risks": [],
    "visits": [
        {
            "on": "2026-09-01",
            "examiner": "A",
            "reported": ["hearing_concern"],
            "right": {
                "wax_found": "occluding",
                "wax_left": "none",
                "clearance": "cleared",
                "drum_seen": "full",
                "attic_seen": True,
                "effusion": "present",
                "tensa_grade": 2,
                "pocket_base_seen": True,
                "hearing_dB": {"500": 30, "1000": 35, "2000": 30, "4000": 35},
            },
            "left": {
                "wax_found": "some",
                "wax_left": "none",
                "drum_seen": "full",
                "effusion": "absent",
                "hearing_dB": {"500": 15, "1000": 15, "2000": 15, "4000": 20},
            },
        }
    ],
}
TOLD = {"ear": "left", "source": "hospital letter"}
PLAIN = accepted(msgspec.inspect.type_info(Case))


def written(**fields):
    return json.dumps({"born": "2018-03-02", **fields}).encode()


def with_right(**findings):
    return written(visits=[{"on": "2026-09-01", "right": findings}])


def refused(data):
    with pytest.raises(InputError) as caught:
        decode_case(data)
    assert caught.value.exit_code == 2
    return caught.value


def test_a_case_file_is_read():
    case = decode_case(json.dumps(EXAMPLE).encode())
    assert case.born == date(2018, 3, 2)
    assert case.visits[0].right.hearing_dB["1000"] == 35
    assert case.visits[0].left.tensa_grade is None


def test_a_byte_order_mark_is_passed_over():
    assert decode_case(b"\xef\xbb\xbf" + written()).visits == ()


@pytest.mark.parametrize(
    ("data", "message", "hint"),
    [
        (b"{}", "born: missing.", "Add it."),
        (written(name="x"), "name: no such field.", "Write one of: born"),
        (written(case_version=2), "case_version: 2 is not a value it can have.", "one of: 1."),
        (written(born="2018-13-02"), "born: no date.", "Write a day as YYYY-MM-DD."),
        (with_right(efusion="absent"), "visits[0].right.efusion: no such field.", "effusion?"),
        (with_right(effusion="absnt"), "visits[0].right.effusion: absnt is not", "absent?"),
        (with_right(effusion=1), "visits[0].right.effusion: expected text", "suspected"),
        (with_right(tensa_grade=5), "visits[0].right.tensa_grade: expected a whole number", ""),
        (with_right(hearing_dB={"501": 5}), "visits[0].right.hearing_dB: 501 is not", "500, 750"),
        (with_right(hearing_dB={"500": 5, "1000": "NR"}), "right.hearing_dB.1000: NR is", "nr?"),
        (with_right(hearing_dB={"500": 131}), "right.hearing_dB.500: expected", ""),
        (with_right(hearing_dB={}), "visits[0].right.hearing_dB: empty.", "Leave it out"),
        (with_right(bone_dB={}), "visits[0].right.bone_dB: empty.", "Leave it out"),
        (with_right(tympanogram={"peak_daPa": None}), "peak_daPa: null says nothing.", "out"),
        (with_right(tympanogram={"flat": True, "type": "B"}), "tympanogram: give exactly", ""),
        (with_right(discharge_since="spring"), "discharge_since: no date.", "month as YYYY-MM"),
        (with_right(discharge_since="٢٠٢٦-٠٨-٠١"), "discharge_since: no date.", "YYYY-MM-DD"),
        (with_right(hearing_dB={"500": True}), "hearing_dB.500: expected a number or text", ""),
        (with_right(discharge_since={}), "discharge_since: give at least one", ""),
        (written(risks=["dementa"]), "risks[0]: dementa is not a value", "dementia?"),
        (written(risks=[{"wat": 1}]), "risks[0].wat: no such field.", "what?"),
        (written(told_by_others=[{"on": "2020-01", **TOLD}]), "tell", ""),
        (
            written(told_by_others=[{"on": "2020-01", **TOLD, "hearing_dB": {}}]),
            "told_by_others[0].hearing_dB: empty.",
            "Leave it out",
        ),
        (b"[]", "The case file: expected an object", ""),
        (b"", "The case file is not JSON", "Check for"),
        (b'{"born": "2018-03-02"', "The case file is not JSON", "Check for"),
        (b'{"visits": [{"examiner": "\xff"}]}', "The case file is not UTF-8", "UTF-8"),
        ('{"born": "2018-03-02"}'.encode("utf-16"), "The case file is not JSON", ""),
        (b'{"born": "2018-03-02", "visits":' + b"[" * 100_000, "visits[0]: expected", ""),
    ],
)
def test_what_is_refused_names_its_path_and_what_would_be_right(data, message, hint):
    error = refused(data)
    assert message in error.message
    assert hint in error.hint


@pytest.mark.parametrize(
    ("data", "message", "hint"),
    [
        (b"{}", "born: missing.", "Add it."),
        (b"[]", "The case file: expected an object in braces, got a list.", ""),
        (b"{]", "The case file is not JSON: object keys must be strings (byte 1).",
         "Check for a missing comma, quote or bracket."),
        (written(born="2018-13-02"), "born: no date.", "Write a day as YYYY-MM-DD."),
        (with_right(discharge_since="spring"), "visits[0].right.discharge_since: no date.",
         "Write a day as YYYY-MM-DD, or a month as YYYY-MM."),
        (written(visits=1), "visits: expected a list, got a whole number.", ""),
        (with_right(tensa_grade=5),
         "visits[0].right.tensa_grade: expected a whole number of at most 4.", ""),
        (with_right(tensa_grade=-1),
         "visits[0].right.tensa_grade: expected a whole number of at least 0.", ""),
        (with_right(tensa_grade="2"),
         "visits[0].right.tensa_grade: expected a whole number, got text.", ""),
        (with_right(red=1), "visits[0].right.red: expected true or false, got a whole number.", ""),
        (with_right(effusion=1), "visits[0].right.effusion: expected text, got a whole number.",
         "Write one of: absent, present, suspected."),
        (with_right(hearing_dB={"500": 131}),
         "visits[0].right.hearing_dB.500: expected a number of at most 130.", ""),
        (with_right(hearing_dB={"500": -21}),
         "visits[0].right.hearing_dB.500: expected a number of at least -20.", ""),
        (with_right(hearing_dB={"500": True}),
         "visits[0].right.hearing_dB.500: expected a number or text, got true or false.", ""),
        (with_right(hearing_dB={"500": "NR"}),
         "visits[0].right.hearing_dB.500: NR is not a value it can have.", "Did you mean nr?"),
        (with_right(hearing_dB=[1]),
         "visits[0].right.hearing_dB: expected an object in braces, got a list.", ""),
        (with_right(hearing_dB={}), "visits[0].right.hearing_dB: empty.",
         "Leave it out where none was done."),
        (with_right(tympanogram={"peak_daPa": None}),
         "visits[0].right.tympanogram.peak_daPa: null says nothing.",
         "Leave it out where it was not recorded."),
        (with_right(tympanogram={"flat": True, "type": "B"}),
         "visits[0].right.tympanogram: give exactly one of peak_daPa, flat or type.", ""),
        (written(risks=[1]), "risks[0]: expected text or an object in braces, got a whole number.",
         ""),
        (written(risks=[{"what": "diabetes", "wen": 1}]), "risks[0].wen: no such field.",
         "Write one of: what, ear, since, until."),
    ],
)  # fmt: skip
def test_a_refusal_is_one_plain_sentence(data, message, hint):
    error = refused(data)
    assert (error.message, error.hint) == (message, hint)


@pytest.mark.parametrize(("length", "shown"), [(40, "x" * 40), (41, "x" * 40 + "…")])
def test_a_long_value_is_cut_short_after_forty_letters(length, shown):
    assert refused(with_right(effusion="x" * length)).message == (
        f"visits[0].right.effusion: {shown} is not a value it can have."
    )


def test_a_refusal_repeats_no_long_or_unprintable_value():
    message = refused(with_right(effusion="\x1b[31m" + "x" * 500)).message
    assert "\x1b" not in message
    assert len(message) < 150


def test_no_response_is_a_level():
    (seen,) = decode_case(with_right(hearing_dB={"500": "nr"})).visits
    assert seen.right.hearing_dB == {"500": "nr"}


def test_lines_are_cases_or_refusals_with_their_number():
    good, bad = written(), b'{"born": "1"}'
    seen = list(decode_cases([good + b"\n", b"\n", bad + b"\n", good]))
    assert [line.number for line in seen] == [1, 3, 4]
    assert [line.case is not None for line in seen] == [True, False, True]
    assert seen[1].error.message == "Line 3: born: no date."


def test_one_visit_is_decoded_against_a_birth_date():
    assert decode_visit(b'{"on": "2026-09-01"}', date(2018, 3, 2)).on == date(2026, 9, 1)
    with pytest.raises(InputError, match=r"^on: 2018-03-01 is before the birth"):
        decode_visit(b'{"on": "2018-03-01"}', date(2018, 3, 2))


def test_a_case_written_and_read_again_is_the_same():
    case = decode_case(json.dumps(EXAMPLE).encode())
    assert decode_case(encode(case)) == case
    lines = [encode(case), encode(case)]
    assert [line.case for line in decode_cases(lines)] == [case, case]


def test_what_was_not_recorded_is_not_written():
    assert encode(Ear()) == b"{}"


def test_the_schema_names_every_field_of_an_ear():
    made = schema()
    assert made["$schema"].endswith("2020-12/schema")
    ear = made["$defs"]["Ear"]
    assert tuple(ear["properties"]) == EAR_FIELDS
    assert ear["additionalProperties"] is False


@settings(max_examples=examples(20), suppress_health_check=list(HealthCheck))
@given(cases())
def test_any_possible_history_is_written_and_read_again_the_same(case):
    assert decode_case(encode(case)) == case


@settings(max_examples=examples(60), suppress_health_check=list(HealthCheck))
@given(PLAIN)
def test_whatever_the_types_accept_is_a_case_or_a_refusal_with_a_path(plain):
    try:
        case = decode_case(msgspec.json.encode(plain))
    except InputError as error:
        assert ": " in error.message
    else:
        assert decode_case(encode(case)) == case
