"""Visits from a file: findings in columns and as JSON."""

from __future__ import annotations

import msgspec
import pytest

from recall.care.case import Visit
from recall.care.catalogue import holding
from recall.care.ear import EAR_FIELDS, SIDES
from recall.care.measured import Tympanogram
from recall.config import FileMap, Import
from recall.exchange import visits_in

VISIT = {"reference": "V1", "person": "P1", "on": "01/09/2026", "examiner": "A"}


def test_the_worked_visit_in_flat_columns_is_the_case_files_visit(read, only):
    """The example of the case file contract, written as columns."""
    flat = {
        "reported": "hearing_concern",
        "right_wax_found": "occluding",
        "right_wax_left": "none",
        "right_clearance": "cleared",
        "right_drum_seen": "full",
        "right_attic_seen": "yes",
        "right_effusion": "present",
        "right_tensa_grade": "2",
        "right_pocket_base_seen": "yes",
        "right_hearing_500": "30",
        "right_hearing_1000": "35",
        "right_hearing_2000": "30",
        "right_hearing_4000": "35",
        "left_wax_found": "some",
        "left_wax_left": "none",
        "left_drum_seen": "full",
        "left_effusion": "absent",
        "left_hearing_500": "15",
        "left_hearing_1000": "15",
        "left_hearing_2000": "15",
        "left_hearing_4000": "20",
    }
    case = b"""{"on": "2026-09-01", "examiner": "A", "reported": ["hearing_concern"],
      "right": {"wax_found": "occluding", "wax_left": "none", "clearance": "cleared",
        "drum_seen": "full", "attic_seen": true, "effusion": "present", "tensa_grade": 2,
        "pocket_base_seen": true,
        "hearing_dB": {"500": 30, "1000": 35, "2000": 30, "4000": 35}},
      "left": {"wax_found": "some", "wax_left": "none", "drum_seen": "full",
        "effusion": "absent", "hearing_dB": {"500": 15, "1000": 15, "2000": 15, "4000": 20}}}"""

    assert only(read("visits", VISIT | flat)).visit == msgspec.json.decode(case, type=Visit)


def test_findings_as_json_are_the_same_as_in_columns(read, only):
    cell = '{"right": {"effusion": "present", "bone_dB": {"1000": "nr"}}}'
    flat = only(read("visits", VISIT | {"right_effusion": "present", "right_bone_1000": "NR"}))

    assert only(read("visits", VISIT | {"findings": cell})) == flat


@pytest.mark.parametrize(
    ("cell", "wrong"),
    [
        ("{", "JSON"),
        ('{"right": {"efusion": "present"}}', "right.efusion"),
        ('{"right": {"effusion": "maybe"}}', "right.effusion"),
        ("[" * 5000, "list"),
        ('{"right":' * 5000, "right.right"),
    ],
)
def test_findings_that_cannot_be_read_say_where(read, cell, wrong, refusal):
    assert wrong in refusal(read("visits", VISIT | {"findings": cell})).wrong


def test_findings_as_json_and_in_columns_at_once_are_refused(read, refusal):
    row = VISIT | {"findings": "{}", "left_effusion": "absent"}
    assert "beside" in refusal(read("visits", row)).wrong


def test_findings_that_contradict_each_other_are_refused_at_their_column(read, refusal):
    row = VISIT | {"right_wax_left": "occluding", "right_drum_seen": "full"}
    assert refusal(read("visits", row)).column == "right_drum_seen"


@pytest.mark.parametrize(
    ("cell", "trace"),
    [
        ("A", Tympanogram(type="A")),
        ("as", Tympanogram(type="As")),
        ("C1", Tympanogram(type="C1")),
        ("flat", Tympanogram(flat=True)),
        ("flat/1.1", Tympanogram(flat=True, volume_ml=1.1)),
        ("-120/0.4/1.1", Tympanogram(peak_daPa=-120, compliance_ml=0.4, volume_ml=1.1)),
        ("-120 / 0,4", Tympanogram(peak_daPa=-120, compliance_ml=0.4)),
    ],
)
def test_tympanograms_in_one_cell(read, cell, trace, only):
    row = only(read("visits", VISIT | {"right_tympanogram": cell}))

    assert row.visit.right.tympanogram == trace


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("right_tympanogram", "-120"),
        ("right_tympanogram", "D"),
        ("right_tympanogram", "1/2/3/4"),
        ("right_tympanogram", "-9000/0.4"),
        ("right_tensa_grade", "5"),
        ("right_tensa_grade", "two"),
        ("right_hearing_500", "200"),
        ("right_hearing_500", "nan"),
        ("right_clearance_tries", "99"),
        ("left_effusion", "yes"),
        ("right_keratin", "some"),
        ("on", "26/11/2026"),
        ("category", "soon"),
    ],
)
def test_findings_out_of_bounds_are_refused_with_what_would_be_right(read, column, value, refusal):
    problem = refusal(read("visits", VISIT | {column: value}))

    assert problem.column == column
    assert problem.right


def test_every_field_of_the_case_file_has_a_column_for_each_ear():
    names = {c.name for c in visits_in.COLUMNS}
    plain = [f for f in EAR_FIELDS if f not in holding("levels")]

    assert {f"{side}_{f}" for side in SIDES for f in plain} <= names
    assert {f"{s}_{w}_{hz}" for s in SIDES for w in ("hearing", "bone") for hz in (500, 4000)} <= (
        names
    )


def test_a_visit_closed_with_a_category_alone_lands(read, only):
    row = only(read("visits", VISIT | {"category": "Fluid recheck"}))

    assert (row.category, row.visit.right, row.visit.left) == ("fluid_recheck", None, None)


def test_a_word_can_be_mapped_to_not_recorded(read, only):
    imports = Import(visits=FileMap(values={"right_effusion": {"not looked for": ""}}))
    row = only(read("visits", VISIT | {"right_effusion": "Not looked for"}, imports=imports))

    assert row.visit.right is None
