"""A practice's words in ours, said once: for a column, for both ears, for every column."""

from __future__ import annotations

from datetime import date, time

import pytest

from recall.config import FileMap, Import
from recall.errors import ConfigError, InputError

VISIT = {"reference": "V1", "person": "P1", "on": "25/03/2026"}
EARS = {"R wax": "Blocked", "L wax": "Nil", "R drum": "Perf", "L drum": "Seen"}
HEADINGS = {
    "right_wax_found": "R wax",
    "left_wax_found": "L wax",
    "right_drum_seen": "R drum",
    "left_drum_seen": "L drum",
}


def given(**more):
    return Import(visits=FileMap(headings=HEADINGS, **more))


def test_one_table_serves_both_ears_and_one_word_every_column(read, only):
    values = {"wax_found": {"Blocked": "occluding"}, "drum_seen": {"Seen": "full", "Perf": "full"}}
    row = only(read("visits", VISIT | EARS, imports=given(values=values, words={"Nil": "none"})))
    assert (row.visit.right.wax_found, row.visit.left.wax_found) == ("occluding", "none")
    assert row.visit.left.drum_seen == "full"


def test_a_columns_own_table_goes_before_the_one_for_all(read, only):
    words = {"Blocked": "some", "Nil": "none", "Seen": "full", "Perf": "full"}
    own = {"right_wax_found": {"Blocked": "occluding"}}
    row = only(read("visits", VISIT | EARS, imports=given(values=own, words=words)))
    assert row.visit.right.wax_found == "occluding"


def test_one_cell_may_set_several_findings_of_its_ear(read, only):
    words = {"Perf": "drum_seen = full; perforation = central", "Seen": "full", "Nil": "none"}
    words["Blocked"] = "occluding"
    row = only(read("visits", VISIT | EARS, imports=given(words=words)))
    right, left = row.visit.right, row.visit.left
    assert (right.drum_seen, right.perforation) == ("full", "central")
    assert (left.drum_seen, left.perforation) == ("full", None)


def test_a_word_that_is_mapped_to_no_column_is_said(read, refusal):
    words = {"Perf": "drum_sean = full", "Seen": "full", "Nil": "none", "Blocked": "occluding"}
    said = refusal(read("visits", VISIT | EARS, imports=given(words=words)))
    assert said.wrong == "is mapped to drum_sean, which is no column"


def test_words_are_no_names_days_or_numbers_of_somebody(read, only):
    imports = Import(people=FileMap(words={"Nil": "none"}))
    person = {"reference": "P1", "family_name": "Nil", "born": "25/03/2018"}
    assert only(read("people", person, imports=imports)).family_name == "Nil"


def test_free_text_of_other_columns_is_kept_as_the_note(read, only):
    texts = {"Comments": "Mum rang.", "Plan text": "", "note": "Seen with mum."}
    imports = Import(visits=FileMap(notes=("comments", "Plan text")))
    reading = read("visits", VISIT | texts, imports=imports)
    assert only(reading).note == "Seen with mum.\nComments: Mum rang."
    assert reading.ignored == ()


def test_what_a_missing_column_says_is_read_from_the_defaults(read, only):
    imports = Import(visits=FileMap(defaults={"examiner": "A. Quill"}))
    assert only(read("visits", VISIT, imports=imports)).visit.examiner == "A. Quill"
    told = VISIT | {"examiner": "C. Voss"}
    assert only(read("visits", told, imports=imports)).visit.examiner == "C. Voss"
    assert only(read("visits", told, imports=imports)).visit.on == date(2026, 3, 25)


@pytest.mark.parametrize("name", ["right_drum_seen", "left_wax_found", "reported", "findings"])
def test_a_finding_is_never_made_up(read, name):
    with pytest.raises(ConfigError, match="a finding is never made up"):
        read("visits", VISIT, imports=Import(visits=FileMap(defaults={name: "full"})))


@pytest.mark.parametrize(
    "heading", ["rigth_wax_found", "right_wax_fond", "left_atic_grade", "Right wax", "left_drum"]
)
def test_a_misspelt_heading_of_an_ear_stops_the_file(read, heading):
    with pytest.raises(InputError, match="is no column, and nearly"):
        read("visits", VISIT | {heading: "none"})


@pytest.mark.parametrize("gone", sorted(EARS))
def test_a_file_without_a_mapped_heading_is_read_and_says_which(read, only, gone):
    words = {"Blocked": "some", "Nil": "none", "Seen": "full", "Perf": "full"}
    reading = read(
        "visits", VISIT | {h: EARS[h] for h in EARS if h != gone}, imports=given(words=words)
    )
    assert reading.absent == (gone,)
    assert only(reading).visit.on == date(2026, 3, 25)


def test_all_mapped_headings_of_ears_may_be_missing(read):
    assert set(read("visits", VISIT, imports=given()).absent) == set(EARS)


@pytest.mark.parametrize("heading", ["R wacks", "R waxx", "R-draum", "L  drm", "R drum seen"])
def test_a_mapped_heading_that_is_misspelt_stops_the_file(read, heading):
    near = "R wax" if "wa" in heading else ("R drum" if heading[0] == "R" else "L drum")
    there = {h: EARS[h] for h in EARS if h != near}
    with pytest.raises(InputError, match="which is nearly that"):
        read("visits", VISIT | there | {heading: "Nil"}, imports=given())


@pytest.mark.parametrize("heading", ["Room", "Wax scheme", "Fee", "R"])
def test_a_heading_that_is_like_no_missing_one_is_left(read, heading):
    reading = read("visits", VISIT | {heading: "4"}, imports=given())
    assert (reading.ignored, len(reading.absent)) == ((heading,), 4)


def test_a_heading_of_notes_or_with_another_figure_is_meant_for_nothing_else(read):
    headings = {"phone": "Tel 1", "gp_name": "Doctor"}
    person = {"reference": "P1", "family_name": "Ash", "born": "25/03/2018", "Tel 2": "x"}
    reading = read("people", person, imports=Import(people=FileMap(headings=headings)))
    assert (reading.absent, reading.ignored) == (("Tel 1", "Doctor"), ("Tel 2",))
    notes = Import(visits=FileMap(headings=HEADINGS, notes=("R waxy",)))
    assert "R wax" in read("visits", VISIT | {"R waxy": "x"}, imports=notes).absent


@pytest.mark.parametrize(
    ("column", "kind"),
    [
        *(("reference", "people"), ("family_name", "people"), ("born", "people")),
        *(("person", "visits"), ("on", "visits"), ("reference", "visits")),
    ],
)
def test_without_who_or_when_no_file_is_taken(read, kind, column):
    row = {"visits": VISIT, "people": {"reference": "P1", "family_name": "A", "born": "1/2/2018"}}
    there = {name: cell for name, cell in row[kind].items() if name != column}
    for headings in ({}, {column: "Heading of ours"}):
        imports = Import(**{kind: FileMap(headings=headings)})
        wanted = headings.get(column, column)
        with pytest.raises(InputError, match=f"there is no column '{wanted}'"):
            read(kind, there, imports=imports)


def test_headings_are_found_below_a_title(read, tmp_path):
    from recall.exchange.visits_in import read_visits

    path = tmp_path / "visits.csv"
    path.write_text(
        "Visits of Wrenfield,,\nExported,on,1 Sep\n\nreference,person,on\nV1,P1,25/03/2026\n"
    )
    (row,) = read_visits(path, Import(), today=date(2026, 9, 1))
    assert (row.line, row.row.reference) == (5, "V1")


def test_a_word_that_is_mapped_to_none_of_ours_stops_the_file(read):
    values = {"canal_skin": {"Bumps": "exostoses"}}
    with pytest.raises(ConfigError, match=r"canal_skin: 'Bumps' is mapped to 'exostoses'") as said:
        read("visits", VISIT | EARS, imports=given(values=values))
    assert said.value.hint.startswith('Write "exostoses = yes" if that finding is meant, or one of')

    values = {"drum_seen": {"Perf": "drum_seen = full; perforation = middle"}}
    with pytest.raises(ConfigError, match="which is not a known word"):
        read("visits", VISIT | EARS, imports=given(values=values))


def test_one_heading_may_be_a_day_and_its_time(read, only):
    row = {"person": "P1", "When": "18/12/2026 11:05"}
    imports = Import(bookings=FileMap(headings={"on": "When", "at": "When"}))
    booked = only(read("bookings", row, imports=imports))
    assert (booked.on, booked.at) == (date(2026, 12, 18), time(11, 5))


@pytest.mark.parametrize("cell", ["Warf, Downs", "warf,downs", "Warf; Downs", "Warf, Downs, Nil"])
def test_a_comma_parts_words_of_a_list(read, only, cell):
    words = {"Warf": "anticoagulant", "Downs": "down_syndrome", "Nil": ""}
    imports = Import(people=FileMap(values={"risks": words}))
    person = {"reference": "P1", "family_name": "Ash", "born": "25/03/2018", "risks": cell}
    assert only(read("people", person, imports=imports)).risks == ("anticoagulant", "down_syndrome")


def test_what_is_said_of_a_word_may_stand_behind_a_comma(read, only, refusal):
    person = {"reference": "P1", "family_name": "Ash", "born": "25/03/2018"}
    cell = "narrow_canal, left, since 2024-03, diabetes"
    narrow, diabetes = only(read("people", person | {"risks": cell})).risks
    assert (narrow.what, narrow.ear, narrow.since) == ("narrow_canal", "left", "2024-03")
    assert diabetes == "diabetes"

    said = refusal(read("people", person | {"risks": "diabetes, gout"}))
    assert said.wrong == "is not a known word"
