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
