"""Tests done elsewhere, from a file: with where and when; never tested means never known."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import pytest

from recall.care.case import ToldByOthers
from recall.desk.core.replanning import replan
from recall.desk.core.session import Desk
from recall.desk.imports.importing import ImportSummary, kind_of
from recall.desk.imports.proposing import propose
from recall.desk.imports.taking_back import look_at_taking_back, take_back
from recall.errors import Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.files import PERSON, VISIT, counts, desk_with, take_in, write
from tests.desk.practice import history_is_whole, rows

TEST = {
    "person": "P1",
    "on": "2026-05",
    "where": "Elm House audiology",
    "right_hearing_tested": "",
    "left_hearing_tested": "",
    "right_hearing_500": "",
    "right_hearing_1000": "",
    "right_hearing_2000": "",
    "right_hearing_4000": "",
    "right_tympanogram": "",
}
TESTED = {"right_hearing_tested": "yes", "left_hearing_tested": "yes"}
AIDED = PERSON | {"born": "1950-03-02", "risks": "hearing_aid", "adult_1_name": ""}


@pytest.fixture
def desk(store: Store, tmp_path: Path) -> Desk:
    """Somebody with a hearing aid of whom no hearing test is known, seen in September."""
    desk = desk_with(store, tmp_path, by="clara")
    take_in(desk, tmp_path, "people", AIDED)
    quiet = VISIT | {"right_effusion": "absent"}
    take_in(desk, tmp_path, "visits", quiet)
    return desk


def landed(desk: Desk, folder: Path, **more: str) -> ImportSummary:
    """Take a row in, whatever it takes away: the number is shown and said."""
    row = TEST | more
    takes = len(propose(desk, write(folder / "tests.csv", row), "tests").losses)
    return take_in(desk, folder, "tests", row, takes_away=takes or None)


def told(desk: Desk) -> list[ToldByOthers]:
    found = rows(desk.store, tables.ToldByOthers)
    return [msgspec.json.decode(row["content"], type=ToldByOthers) for row in found]


def asks(desk: Desk) -> list[tuple[Any, ...]]:
    dues = rows(desk.store, tables.Due, is_open=True)
    return sorted((d["ear"], d["track"], d["rule"], str(d["latest"])) for d in dues)


def hearing(desk: Desk) -> dict[str, str]:
    """By when the hearing of each ear is to be tested."""
    return {ear: latest for ear, _track, rule, latest in asks(desk) if rule == "aid-hearing-test"}


def test_a_test_counts_as_done_with_where_and_when(desk: Desk, tmp_path: Path) -> None:
    """Three years from the test: Int J Audiol 2009;48:204-10."""
    before = asks(desk)
    assert hearing(desk) == {"right": "2026-12-22", "left": "2026-12-22"}
    with pytest.raises(Refused, match="2 × due that would move later"):
        take_in(desk, tmp_path, "tests", TEST | TESTED)
    assert asks(desk) == before and told(desk) == []
    assert counts(landed(desk, tmp_path, **TESTED)) == (1, 0, 0, 0)
    assert [(t.on, t.source, t.hearing_tested) for t in told(desk)] == [
        ("2026-05", "Elm House audiology", True)
    ] * 2
    assert hearing(desk) == {"right": "2029-08-01", "left": "2029-08-01"}
    assert counts(take_in(desk, tmp_path, "tests", TEST | TESTED)) == (0, 0, 1, 0)
    assert history_is_whole(desk.store)


def test_a_test_of_one_ear_says_nothing_of_the_other(desk: Desk, tmp_path: Path) -> None:
    levels = {"500": 30.0, "1000": 35.0, "2000": 35.0, "4000": 40.0}
    landed(desk, tmp_path, **{f"right_hearing_{hz}": str(dB) for hz, dB in levels.items()})
    assert hearing(desk) == {"right": "2029-08-01", "left": "2026-12-22"}
    (one,) = told(desk)
    assert one.hearing_dB == levels and one.hearing_tested is None


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({}, "tells of no test"),
        ({"right_hearing_tested": "no"}, "only a test that was done counts"),
        (TESTED | {"on": "2027-05"}, "is after today"),
        (TESTED | {"on": "2026-13"}, "is not a date"),
        (TESTED | {"on": "6 weeks"}, "is no day"),
        (TESTED | {"on": "1949-12"}, "is before the birth"),
        (TESTED | {"person": "P9"}, "import the person first"),
        (TESTED | {"where": ""}, "is empty"),
        ({"right_hearing_500": "300"}, "is out of bounds"),
    ],
)
def test_what_tells_of_no_test_goes_back_and_nothing_is_asked_later(
    desk: Desk, tmp_path: Path, more: dict[str, str], said: str
) -> None:
    before = asks(desk)
    back = take_in(desk, tmp_path, "tests", TEST | more)
    assert back.rejects_path is not None and said in back.rejects_path.read_text("utf-8-sig")
    assert asks(desk) == before


def test_a_tympanogram_is_no_hearing_test(desk: Desk, tmp_path: Path) -> None:
    before = asks(desk)
    landed(desk, tmp_path, right_tympanogram="A")
    assert asks(desk) == before


@pytest.mark.parametrize(("trace", "asked"), [("A", False), ("C1", False), ("flat/1.1", True)])
def test_a_trace_from_elsewhere_asks_like_one_of_our_own(
    desk: Desk, tmp_path: Path, trace: str, asked: bool
) -> None:
    later = desk_with(desk.store, tmp_path, desk.today.replace(month=10), "clara")
    landed(later, tmp_path, on="2026-10-02", right_tympanogram=trace)
    assert (("right", "fluid") in [a[:2] for a in asks(desk)]) is asked


@pytest.mark.parametrize(("trace", "still"), [("A", False), ("C1", False), ("C2", True)])
def test_only_a_quiet_trace_answers_a_second_one(
    store: Store, tmp_path: Path, trace: str, still: bool
) -> None:
    """CMAJ autoinflation trial, table 1: C1 normal, fluid behind about half of C2."""
    desk = desk_with(store, tmp_path, by="clara")
    take_in(desk, tmp_path, "people", PERSON)
    flat = VISIT | {"right_effusion": "", "right_drum_seen": "", "right_tympanogram": "C2"}
    take_in(desk, tmp_path, "visits", flat)
    assert [a[:3] for a in asks(desk)] == [("right", "fluid", "trace-c2-child")]
    later = desk_with(store, tmp_path, desk.today.replace(month=12), "clara")
    landed(later, tmp_path, on="2026-12-01", right_tympanogram=trace)
    assert bool([a for a in asks(desk) if a[2] == "trace-c2-child"]) is still


def test_what_a_row_says_otherwise_takes_its_place_only_with_the_number(
    desk: Desk, tmp_path: Path
) -> None:
    landed(desk, tmp_path, **TESTED)
    less = TEST | {"right_hearing_tested": "yes"}
    with pytest.raises(Refused, match="test elsewhere said otherwise"):
        take_in(desk, tmp_path, "tests", less)
    assert counts(landed(desk, tmp_path, right_hearing_tested="yes")) == (0, 1, 0, 0)
    assert [t.ear for t in told(desk)] == ["right"]


def test_what_was_taken_off_at_the_desk_stays_off(desk: Desk, tmp_path: Path) -> None:
    landed(desk, tmp_path, **TESTED)
    with desk.store.write() as session:
        for row in session.query(tables.ToldByOthers):
            row.void_at, row.void_by_id, row.void_why = desk.now, 1, "Another person's."
    again = landed(desk, tmp_path, **TESTED, right_tympanogram="A")
    assert counts(again) == (0, 0, 1, 0) and "stays off" in again.told[0]
    assert told(desk) == []


@pytest.mark.parametrize("first", [True, False])
def test_a_run_that_is_taken_back_leaves_all_as_it_was(
    desk: Desk, tmp_path: Path, first: bool
) -> None:
    if first:
        landed(desk, tmp_path, right_hearing_tested="yes")
    before = asks(desk), told(desk), seen(desk)
    run = landed(desk, tmp_path, **TESTED).run
    assert run is not None and asks(desk) != before[0]
    look = look_at_taking_back(desk, run)
    done = take_back(desk, run)
    assert (look.voided, look.restored) == (done.voided, done.restored)
    replan(desk)
    assert (asks(desk), told(desk), seen(desk)) == before
    assert history_is_whole(desk.store)


def seen(desk: Desk) -> list[tuple[str, str]]:
    with desk.store.read() as session:
        found = session.query(tables.ImportSeen).filter_by(kind="tests")
        return sorted((row.ref, row.fields) for row in found)


def test_the_kind_is_told_by_the_headings(desk: Desk, tmp_path: Path) -> None:
    assert kind_of(write(tmp_path / "export.csv", TEST | TESTED), desk) == "tests"
