"""What is guessed of a practice's own lists: languages, hearing by frequency, a list of tests."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from recall.config import Import
from recall.exchange import looking
from recall.exchange.cells import Cells
from recall.exchange.columns import KINDS
from recall.exchange.ear_columns import tympanogram
from recall.exchange.rows_in import open_rows

CELLS = Cells("DD/MM/YYYY", "GB", date(2026, 11, 25))


def looked(folder: Path, *lines: str) -> looking.Looked:
    path = folder / "list.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return looking.look_at(path, KINDS.values(), CELLS)


def test_languages_by_their_names_are_guessed_and_others_counted(tmp_path: Path) -> None:
    found = looked(
        tmp_path,
        "Chart No,Surname,DOB,Speaks",
        "C1,Ash,25/03/1960,Welsh",
        "C2,Orme,25/03/1960,Elvish",
    )
    assert found.values["language"] == {"Welsh": "cy"}
    assert dict(found.unknown["language"]) == {"Elvish": 1}


def test_a_list_of_tests_is_known_by_its_headings(tmp_path: Path) -> None:
    headings = "Chart No,Date of test,Clinic,R 500 Hz,L 4000,Right tested,L tymp"
    found = looked(tmp_path, headings, "C1,25/03/2026,Elm House,30,,yes,A")
    assert found.kind.name == "tests" and not found.left
    assert found.headings["right_hearing_500"] == "R 500 Hz"
    assert found.headings["left_hearing_4000"] == "L 4000"


@pytest.mark.parametrize("trace", ["A", "flat", "flat/1.1", "-120/0.4/1.1"])
def test_a_trace_is_shown_as_a_file_writes_it(tmp_path: Path, trace: str) -> None:
    path = tmp_path / "tests.csv"
    path.write_text(f"person,on,where,left_tympanogram\nC1,2026-05,Elm House,{trace}\n")
    reading = open_rows(path, KINDS["tests"], Import(), today=CELLS.today)
    (row,) = reading
    assert row.row is not None and row.row.told[0].tympanogram == tympanogram(CELLS, trace)
    assert reading.understood(row).endswith(f"left_tympanogram {trace}")


def test_an_ear_may_stand_between_the_words_of_a_heading(tmp_path: Path) -> None:
    headings = "Consult No,Pat ID,Date seen,Wax R before,Wax L before,Wax R after"
    found = looked(tmp_path, headings, "C1,P1,25/03/2026,Blocked,Clear,Clear")
    assert found.kind.name == "visits" and not found.left
    assert found.headings["right_wax_found"] == "Wax R before"
    assert found.headings["left_wax_found"] == "Wax L before"
    assert found.headings["right_wax_left"] == "Wax R after"


def test_a_day_with_its_time_in_one_cell_is_both(tmp_path: Path) -> None:
    found = looked(tmp_path, "Appt,Pat ID,When,Mins", "A1,P1,18.12.2026 11:05,20")
    assert found.kind.name == "bookings" and not found.left
    assert found.headings["on"] == found.headings["at"] == "When"


def test_a_day_alone_is_no_time(tmp_path: Path) -> None:
    found = looked(tmp_path, "Appt,Pat ID,Day,Mins", "A1,P1,18.12.2026,20")
    assert "at" not in found.headings


def test_words_of_a_list_are_counted_by_themselves_where_commas_part_them(tmp_path: Path) -> None:
    rows = 'P1,Ash,25/03/1960,"Warf, Gout"', 'P2,Orme,25/03/1960,"Gout, Downs; Warf"'
    found = looked(tmp_path, "Pat ID,Surname,DOB,Warnings", *rows)
    assert found.values["risks"] == {"Warf": "anticoagulant", "Downs": "down_syndrome"}
    assert dict(found.unknown["risks"]) == {"Gout": 2}
