"""Rows of every kind of file: what lands, what does not, and what is said."""

from __future__ import annotations

import csv
import subprocess
import sys
from datetime import date, time
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from recall.care.case import Case, Visit
from recall.care.ear import EAR_FIELDS, SIDES, Ear, Tympanogram, recorded
from recall.config import FileMap, Import
from recall.errors import ConfigError, InputError
from recall.exchange import bookings_in, contacts_in, people_in, visits_in
from recall.exchange.bookings_in import read_bookings
from recall.exchange.contacts_in import read_contacts
from recall.exchange.people_in import read_people
from recall.exchange.problem import Wrong
from recall.exchange.visits_in import read_visits

TODAY = date(2026, 11, 25)
READERS = {
    "people": read_people,
    "visits": read_visits,
    "contacts": read_contacts,
    "bookings": read_bookings,
}
KINDS = (people_in.PEOPLE, visits_in.VISITS, contacts_in.CONTACTS, bookings_in.BOOKINGS)
PERSON = {
    "reference": "P1",
    "given_name": "Ann",
    "family_name": "O'Brien-Łukasz",
    "born": "02/03/2018",
}
VISIT = {"reference": "V1", "person": "P1", "on": "01/09/2026", "examiner": "A"}


def save(path: Path, rows: list[dict], headings=None) -> Path:
    headings = headings or list(dict.fromkeys(h for row in rows for h in row))
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, headings, restval="")
        writer.writeheader()
        writer.writerows(rows)
    return path


@pytest.fixture
def read(tmp_path):
    def reader(kind, *rows, imports=None):
        path = save(tmp_path / f"{kind}.csv", list(rows))
        return READERS[kind](path, imports or Import(), today=TODAY)

    return reader


def only(reading):
    (one,) = reading
    assert one.row is not None, one.problems
    return one.row


def refusal(reading):
    (one,) = reading
    assert one.row is None
    (problem,) = [p for p in one.problems if not p.kept]
    return problem


def test_a_person_with_everything(read):
    row = only(
        read(
            "people",
            PERSON
            | {
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
            },
            imports=Import(
                people=FileMap(headings={"email": "E-Mail"}, values={"sex": {"f": "female"}})
            ),
        )
    )

    assert row.nhs_number.is_right
    assert (row.reference, row.born, row.sex) == ("P1", date(2018, 3, 2), "female")
    assert row.address == ("3 Mill Lane", "Wrenfield")
    assert row.postcode.value == "WF99 4ZZ"
    assert row.phone_2.value == "+447700900123"
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
def test_a_bad_row_does_not_land_and_says_why(read, column, value, wrong):
    problem = refusal(read("people", PERSON | {column: value}))

    assert (problem.line, problem.column) == (2, column)
    assert wrong in problem.wrong
    assert problem.right


def test_an_adult_without_a_name_is_refused(read):
    assert refusal(read("people", PERSON | {"adult_1_phone": "01632 960123"})).column == (
        "adult_1_name"
    )


def test_objecting_can_be_a_day_or_a_plain_yes(read):
    assert only(read("people", PERSON | {"objected": "01/02/2026"})).objected_on == date(2026, 2, 1)
    row = only(read("people", PERSON | {"objected": "yes"}))
    assert (row.objected, row.objected_on) == (True, None)


def test_the_second_row_with_a_reference_is_refused_with_the_first_ones_line(read):
    first, second = read("people", PERSON, PERSON | {"given_name": "Bea"})

    assert first.row and second.row is None
    assert "line 2" in second.problems[-1].wrong


def test_a_bad_row_stops_nothing(read):
    good = [PERSON | {"reference": f"P{n}"} for n in range(3)]
    reading = read("people", good[0], PERSON | {"reference": "X", "born": "?"}, *good[1:])

    assert [r.row.reference if r.row else None for r in reading] == ["P0", None, "P1", "P2"]


@pytest.mark.parametrize("line", ["P1,Lee", "P1,Lee,02/03/2018,surplus"])
def test_rows_with_too_few_or_too_many_cells_are_refused(tmp_path, line):
    path = tmp_path / "p.csv"
    path.write_text(f"reference,family_name,born\n{line}\n", encoding="utf-8")

    problem = refusal(read_people(path, Import(), today=TODAY))
    assert "cells where the headings have 3" in problem.wrong


def test_empty_cells_after_the_last_heading_do_not_matter(tmp_path):
    path = tmp_path / "p.csv"
    path.write_text("reference,family_name,born\nP1,Lee,02/03/2018,,\n", encoding="utf-8")

    assert only(read_people(path, Import(), today=TODAY)).family_name == "Lee"


def test_a_missing_heading_names_the_nearest_and_the_setting(read):
    row = {"reference": "P1", "familyname": "Lee", "born": "02/03/2018"}
    with pytest.raises(InputError) as caught:
        read("people", row)

    assert "'family_name'" in str(caught.value)
    assert "'familyname'" in str(caught.value)
    assert "import.people.headings.family_name" in str(caught.value)


def test_a_heading_twice_is_refused(tmp_path):
    path = tmp_path / "p.csv"
    path.write_text("reference,born,born,family_name\n", encoding="utf-8")
    with pytest.raises(InputError, match="twice"):
        read_people(path, Import(), today=TODAY)


def test_mapped_headings_go_before_our_own_names(read):
    imports = Import(people=FileMap(headings={"reference": "Record no"}))
    row = {k: v for k, v in PERSON.items() if k != "reference"}
    reading = read(
        "people", row | {"Record No": "R7", "reference": "ours", "shoe": "9"}, imports=imports
    )

    assert only(reading).reference == "R7"
    assert reading.ignored == ("reference", "shoe")


def test_a_mapped_heading_that_is_not_there_is_refused(read):
    with pytest.raises(InputError, match="Tel"):
        read("people", PERSON, imports=Import(people=FileMap(headings={"phone": "Tel"})))


def test_a_mapping_for_a_column_that_does_not_exist_is_refused(read):
    with pytest.raises(ConfigError, match=r"import\.people\.headings\.famly_name.*family_name"):
        read("people", PERSON, imports=Import(people=FileMap(headings={"famly_name": "x"})))


def test_a_word_can_be_mapped_to_not_recorded(read):
    imports = Import(visits=FileMap(values={"right_effusion": {"not looked for": ""}}))
    row = only(read("visits", VISIT | {"right_effusion": "Not looked for"}, imports=imports))

    assert row.visit.right is None


def test_words_in_lists_are_mapped_one_by_one(read):
    words = {"diabetic": "diabetes", "HA": "hearing_aid", "smoker": ""}
    imports = Import(people=FileMap(values={"risks": words}))
    row = only(read("people", PERSON | {"risks": "Diabetic; smoker; HA"}, imports=imports))

    assert row.risks == ("diabetes", "hearing_aid")


def test_the_worked_visit_in_flat_columns_is_the_case_files_visit(read):
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


def test_findings_as_json_are_the_same_as_in_columns(read):
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
def test_findings_that_cannot_be_read_say_where(read, cell, wrong):
    assert wrong in refusal(read("visits", VISIT | {"findings": cell})).wrong


def test_findings_as_json_and_in_columns_at_once_are_refused(read):
    row = VISIT | {"findings": "{}", "left_effusion": "absent"}
    assert "beside" in refusal(read("visits", row)).wrong


def test_findings_that_contradict_each_other_are_refused_at_their_column(read):
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
def test_tympanograms_in_one_cell(read, cell, trace):
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
def test_findings_out_of_bounds_are_refused_with_what_would_be_right(read, column, value):
    problem = refusal(read("visits", VISIT | {column: value}))

    assert problem.column == column
    assert problem.right


def test_every_field_of_the_case_file_has_a_column_for_each_ear():
    names = {c.name for c in visits_in.COLUMNS}
    plain = [f for f in EAR_FIELDS if f not in ("hearing_dB", "bone_dB")]

    assert {f"{side}_{f}" for side in SIDES for f in plain} <= names
    assert {f"{s}_{w}_{hz}" for s in SIDES for w in ("hearing", "bone") for hz in (500, 4000)} <= (
        names
    )


def test_a_visit_closed_with_a_category_alone_lands(read):
    row = only(read("visits", VISIT | {"category": "Fluid recheck"}))

    assert (row.category, row.visit.right, row.visit.left) == ("fluid_recheck", None, None)


def test_contacts(read):
    row = {
        "person": "P1",
        "on": "01/10/2026",
        "at": "10:15",
        "channel": "phone",
        "outcome": "No answer",
        "by": "desk",
    }
    found = only(read("contacts", row))

    assert (found.on, found.at, found.outcome) == (date(2026, 10, 1), time(10, 15), "no_answer")
    early = row | {"outcome": "call_again_on", "call_on": "01/09/2026"}
    assert refusal(read("contacts", early)).column == "call_on"


def test_bookings_may_lie_ahead(read):
    row = {"person": "P1", "on": "01/12/2026", "at": "9:30", "with": "Practitioner A"}
    found = only(read("bookings", row))

    assert (found.minutes, found.status, found.with_) == (20, "made", "Practitioner A")
    assert refusal(read("bookings", row | {"minutes": "0"})).column == "minutes"
    assert refusal(read("bookings", row | {"status": "lost"})).right


def test_what_only_the_register_knows_is_refused_in_the_files_own_heading(read):
    imports = Import(visits=FileMap(headings={"person": "Record no"}))
    row = {k: v for k, v in VISIT.items() if k != "person"} | {"Record no": "P9"}
    reading = read("visits", row, imports=imports)
    (one,) = reading

    refused = reading.refuse(
        one, Wrong("is not in the register", "import the person first", "person")
    )
    assert refused.row is None
    assert (refused.problems[0].column, refused.problems[0].value) == ("Record no", "P9")


def test_every_column_says_what_it_holds():
    for kind in KINDS:
        names = [c.name for c in kind.columns]
        assert len(names) == len(set(names))
        assert all(c.says for c in kind.columns)


any_cell = st.text(st.characters(exclude_categories=["Cs"]), max_size=20) | st.sampled_from(
    ["yes", "01/02/2020", "flat", "-10", "=1+1", '"', "right", "9:30", "{}", "nr", "P1"]
)


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.name)
@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_text_in_any_cell_lands_or_is_refused_with_words(tmp_path, kind, data):
    names = [c.name for c in kind.columns]
    chosen = data.draw(st.lists(st.sampled_from(names), unique=True, max_size=8))
    needed = [c.name for c in kind.columns if c.needed]
    row = {name: data.draw(any_cell) for name in dict.fromkeys(needed + chosen)}
    path = save(tmp_path / "any.csv", [row])

    for one in READERS[kind.name](path, Import(), today=TODAY):
        assert (one.row is None) == any(not p.kept for p in one.problems)
        assert all(p.wrong and p.right for p in one.problems)


@settings(max_examples=30)
@given(st.sampled_from(visits_in.COLUMNS), any_cell)
def test_whatever_lands_is_a_case_file(tmp_path_factory, column, cell):
    path = save(tmp_path_factory.mktemp("v") / "v.csv", [VISIT | {column.name: cell}])
    for one in read_visits(path, Import(), today=TODAY):
        if one.row is not None:
            case = Case(born=date(1950, 1, 1), visits=(one.row.visit,))
            assert msgspec.json.decode(msgspec.json.encode(case), type=Case) == case
            assert recorded(one.row.visit.right) == {} or isinstance(one.row.visit.right, Ear)


def test_reading_twice_gives_the_same(read):
    reading = read("people", PERSON, PERSON | {"reference": "P2", "born": "?"})

    assert list(reading) == list(reading)


def test_validating_libraries_are_imported_only_when_a_value_needs_them():
    heavy = [
        "phonenumbers",
        "stdnum",
        "uk_postcodes_parsing",
        "email_validator",
        "holidays",
        "sqlalchemy",
    ]
    rooms = "people_in visits_in contacts_in bookings_in rejects out icalendar_out holidays_source"
    code = (
        "import sys, importlib\n"
        f"for room in {rooms.split()!r}: importlib.import_module('recall.exchange.' + room)\n"
        f"print([m for m in {heavy!r} if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"
