"""The printed JSON Schema agrees with the decoder, by a general-purpose validator."""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, given, settings
from jsonschema import Draft202012Validator

from recall.care.case_schema import schema
from recall.care.casefile import decode_case, encode
from recall.errors import InputError
from tests.care.strategies import cases
from tests.seeds import examples

VALIDATOR = Draft202012Validator(schema())
VISIT = {"on": "2026-09-01"}


def with_left(**findings):
    return {"born": "2018-03-02", "visits": [{**VISIT, "left": findings}]}


def test_the_schema_is_a_schema():
    Draft202012Validator.check_schema(schema())


@pytest.mark.parametrize(
    "plain",
    [
        {},
        {"born": 5},
        {"born": "2018-03-02", "case_version": 2},
        {"born": "2018-03-02", "name": "x"},
        {"born": "2018-03-02", "visits": [{}]},
        {"born": "2018-03-02", "risks": ["dementa"]},
        {"born": "2018-03-02", "risks": [{"ear": "left"}]},
        with_left(efusion="absent"),
        with_left(effusion="absnt"),
        with_left(tensa_grade=5),
        with_left(tensa_grade=1.5),
        with_left(hearing_dB={"501": 10}),
        with_left(hearing_dB={"500": 131}),
        with_left(hearing_dB={"500": "NR"}),
        with_left(tympanogram={"peak_daPa": None}),
        with_left(tympanogram={"flat": False}),
        with_left(discharge_since="spring"),
        with_left(discharge_since={"weeks": -1}),
    ],
)
def test_both_refuse_it(plain):
    assert not VALIDATOR.is_valid(plain)
    with pytest.raises(InputError):
        decode_case(json.dumps(plain).encode())


@settings(max_examples=examples(20), suppress_health_check=list(HealthCheck))
@given(cases())
def test_the_schema_accepts_any_possible_history(case):
    assert VALIDATOR.is_valid(json.loads(encode(case)))


def test_every_field_says_in_one_line_what_it_means():
    """A reader took `onset_days` for days ago, where nothing said what it is."""
    fields = {
        (name, field): values.get("description", "")
        for name, part in schema()["$defs"].items()
        for field, values in part["properties"].items()
    }
    assert len(fields) > 90
    assert [at for at, said in fields.items() if not said.endswith(".") or "\n" in said] == []
    assert "not how many days ago" in fields["Reported", "onset_days"]


def test_every_measure_says_its_unit():
    fields = {f: v for part in schema()["$defs"].values() for f, v in part["properties"].items()}
    for field, unit in {
        "hearing_dB": "dB HL", "bone_dB": "dB HL", "peak_daPa": "daPa", "compliance_ml": "ml",
        "volume_ml": "ml", "onset_days": "days", "clearance_tries": "tries",
    }.items():  # fmt: skip
        assert unit in fields[field]["description"]
