"""Rows of every kind of file: headings, mapping, refusals, and any text in any cell."""

from __future__ import annotations

import subprocess
import sys
from datetime import date, time

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recall.care.case import Case
from recall.care.ear import Ear, recorded
from recall.config import FileMap, Import
from recall.errors import ConfigError, InputError
from recall.exchange import bookings_in, contacts_in, people_in, visits_in
from recall.exchange.people_in import read_people
from recall.exchange.problem import Wrong
from tests.seeds import examples

TODAY = date(2026, 11, 25)
KINDS = (people_in.PEOPLE, visits_in.VISITS, contacts_in.CONTACTS, bookings_in.BOOKINGS)
PERSON = {
    "reference": "P1",
    "given_name": "Ann",
    "family_name": "O'Brien-Łukasz",
    "born": "02/03/2018",
}
VISIT = {"reference": "V1", "person": "P1", "on": "01/09/2026", "examiner": "A"}


def test_the_second_row_with_a_reference_is_refused_with_the_first_ones_line(read):
    first, second = read("people", PERSON, PERSON | {"given_name": "Bea"})

    assert first.row and second.row is None
    assert "line 2" in second.problems[-1].wrong


def test_a_bad_row_stops_nothing(read):
    good = [PERSON | {"reference": f"P{n}"} for n in range(3)]
    reading = read("people", good[0], PERSON | {"reference": "X", "born": "?"}, *good[1:])

    assert [r.row.reference if r.row else None for r in reading] == ["P0", None, "P1", "P2"]


@pytest.mark.parametrize("line", ["P1,Lee", "P1,Lee,02/03/2018,surplus"])
def test_rows_with_too_few_or_too_many_cells_are_refused(tmp_path, line, refusal):
    path = tmp_path / "p.csv"
    path.write_text(f"reference,family_name,born\n{line}\n", encoding="utf-8")

    problem = refusal(read_people(path, Import(), today=TODAY))
    assert "cells where the headings have 3" in problem.wrong


def test_empty_cells_after_the_last_heading_do_not_matter(tmp_path, only):
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


def test_mapped_headings_go_before_our_own_names(read, only):
    imports = Import(people=FileMap(headings={"reference": "Record no"}))
    row = {k: v for k, v in PERSON.items() if k != "reference"}
    reading = read(
        "people", row | {"Record No": "R7", "reference": "ours", "shoe": "9"}, imports=imports
    )

    assert only(reading).reference == "R7"
    assert reading.ignored == ("reference", "shoe")


def test_a_mapping_for_a_column_that_does_not_exist_is_refused(read):
    with pytest.raises(ConfigError, match=r"import\.people\.headings\.famly_name.*family_name"):
        read("people", PERSON, imports=Import(people=FileMap(headings={"famly_name": "x"})))


def test_contacts(read, only, refusal):
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


def test_bookings_may_lie_ahead(read, only, refusal):
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
@settings(max_examples=examples(20))
@given(data=st.data())
def test_any_text_in_any_cell_lands_or_is_refused_with_words(read, kind, data):
    names = [c.name for c in kind.columns]
    chosen = data.draw(st.lists(st.sampled_from(names), unique=True, max_size=8))
    needed = [c.name for c in kind.columns if c.needed]
    row = {name: data.draw(any_cell) for name in dict.fromkeys(needed + chosen)}

    for one in read(kind.name, row):
        assert (one.row is None) == any(not p.kept for p in one.problems)
        assert all(p.wrong and p.right for p in one.problems)


@settings(max_examples=examples(30))
@given(st.sampled_from(visits_in.COLUMNS), any_cell)
def test_whatever_lands_is_a_case_file(read, column, cell):
    for one in read("visits", VISIT | {column.name: cell}):
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
