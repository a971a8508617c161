"""A file is a proposal: what it has no column for stays, and what goes is counted first."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import msgspec
import pytest

from recall.care.case import Case
from recall.config import FileMap, Import
from recall.desk.core.session import Desk
from recall.desk.imports.difference_words import understood
from recall.desk.imports.importing import import_file
from recall.desk.imports.landing import land
from recall.desk.imports.proposing import propose
from recall.errors import Refused
from recall.exchange.people_in import PEOPLE
from recall.exchange.visits_in import VISITS
from recall.records import tables
from recall.records.database.store import Store
from recall.records.facts.cases import all_cases
from tests.desk.files import desk_with, take_in, write
from tests.desk.practice import rows
from tests.desk.test_told_files import CHILD, DEAD, SEEN

PERSON = CHILD | {"deceased_on": "", "objected": "2026-08-01", "safe_contact": "Ring Ida only."}
HELD = (tables.Person, tables.ContactPoint, tables.AdultFor, tables.PersonRisk, tables.Findings)


def held(store: Store) -> dict[str, list[Any]]:
    """Return what the register holds of people and ears, without what counts versions."""
    told = {table.__name__: [dict(row) for row in rows(store, table)] for table in HELD}
    for row in told["Person"]:
        row.pop("version")
    return told


def without(row: dict[str, str], *columns: str) -> dict[str, str]:
    return {name: cell for name, cell in row.items() if name not in columns}


NEEDED = {c.name for kind in (PEOPLE, VISITS) for c in kind.columns if c.needed}


@pytest.mark.parametrize("column", [name for name in PERSON if name not in NEEDED])
def test_a_column_that_is_missing_takes_nothing_away(
    store: Store, tmp_path: Path, column: str
) -> None:
    """Two columns were once left out of a file: five of the dead became alive."""
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON, DEAD)
    before = held(store)
    take_in(desk, tmp_path, "people", without(PERSON, column), without(DEAD, column))
    assert held(store) == before


@pytest.mark.parametrize("column", [name for name in SEEN if name not in NEEDED])
def test_a_column_of_visits_that_is_missing_takes_nothing_away(
    store: Store, tmp_path: Path, column: str
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", SEEN)
    before = rows(store, tables.Visit), held(store)
    take_in(desk, tmp_path, "visits", without(SEEN, column))
    assert (rows(store, tables.Visit), held(store)) == before


def test_all_columns_of_ears_may_be_missing(store: Store, tmp_path: Path) -> None:
    """A file without the columns of ears once erased every finding."""
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", SEEN)
    before = held(store)
    take_in(desk, tmp_path, "visits", {n: c for n, c in SEEN.items() if "ht_" not in n[:6]})
    take_in(desk, tmp_path, "visits", {n: SEEN[n] for n in ("reference", "person", "on")})
    assert held(store) == before


def cases(store: Store) -> dict[int, Case]:
    with store.read() as session:
        return dict(all_cases(session))


def mapped(desk: Desk, kind: str, **headings: str) -> Desk:
    """The same desk, with headings of the practice's own in its settings."""
    imports = Import(**{kind: FileMap(headings=headings)})
    return replace(desk, config=msgspec.structs.replace(desk.config, imports=imports))


@pytest.mark.parametrize("column", ["phone", "postcode", "risks", "adult_1_phone", "safe_contact"])
def test_a_mapped_heading_that_is_missing_takes_nothing_away(
    store: Store, tmp_path: Path, column: str
) -> None:
    desk = mapped(desk_with(store, tmp_path), "people", **{column: "Their own heading"})
    take_in(
        desk, tmp_path, "people", without(PERSON, column) | {"Their own heading": PERSON[column]}
    )
    before = held(store)
    path = write(tmp_path / "people.csv", without(PERSON, column) | {"given_name": "Rowena"})
    found = propose(desk, path, "people")
    assert found.found.reading.absent == ("Their own heading",)
    assert any("Mapped, and not in it" in line for line in understood(found))
    land(desk, found)
    after = held(store)
    assert after["Person"].pop(0).pop("given_names") == "Rowena"
    assert before["Person"].pop(0).pop("given_names") == "Rowan"
    assert after == before


def test_a_mapped_heading_of_an_ear_that_is_missing_takes_no_finding(
    store: Store, tmp_path: Path
) -> None:
    desk = mapped(desk_with(store, tmp_path), "visits", right_effusion="Fluid, right")
    take_in(desk, tmp_path, "people", PERSON)
    seen = without(SEEN, "right_effusion")
    take_in(desk, tmp_path, "visits", seen | {"Fluid, right": "present"})
    (before,) = cases(store).values()
    take_in(desk, tmp_path, "visits", seen | {"note": "Typed later."})
    assert [row["note"] for row in rows(store, tables.Visit, void_at=None)] == ["Typed later."]
    assert cases(store) == {1: before}


@pytest.mark.parametrize("column", ["deceased_on", "objected", "safe_contact"])
def test_no_empty_cell_takes_back_a_death_an_objection_or_a_caution(
    store: Store, tmp_path: Path, column: str
) -> None:
    desk = desk_with(store, tmp_path)
    person = PERSON | {"deceased_on": "2026-08-02"}
    take_in(desk, tmp_path, "people", person)
    before = held(store)
    summary = take_in(desk, tmp_path, "people", person | {column: ""})
    assert held(store) == before
    (said,) = [p for p in summary.kept_aside if p.column == column]
    assert said.wrong == "is empty now, and what an earlier file said stands"


EMPTIED = {
    "phone": "number or address",
    "risks": "risk",
    "adult_1_name": "adult",
    "email": "number or address",
}


@pytest.mark.parametrize("column", [name for name in EMPTIED if PERSON.get(name)])
def test_what_would_go_is_counted_and_nothing_lands_without_its_number(
    store: Store, tmp_path: Path, column: str
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    before = held(store)
    emptied = PERSON | {column: ""}
    if column == "adult_1_name":
        emptied |= {name: "" for name in PERSON if name.startswith("adult_1")}
    path = write(tmp_path / "people.csv", emptied)
    with pytest.raises(Refused, match=rf"Nothing has landed\..*{EMPTIED[column]}") as told:
        import_file(desk, path, "people")
    count = int(told.value.hint.rstrip(".").rpartition(" ")[2])
    with pytest.raises(Refused, match="Nothing has landed"):
        import_file(desk, path, "people", takes_away=count + 1)
    assert held(store) == before
    import_file(desk, path, "people", takes_away=count)
    assert held(store) != before


def test_a_number_for_nothing_is_said(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    path = write(tmp_path / "people.csv", PERSON)
    with pytest.raises(Refused, match="would take nothing away"):
        import_file(desk, path, "people", takes_away=3)
    assert rows(store, tables.Person) == []


def test_a_finding_that_goes_or_becomes_milder_is_counted(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", SEEN | {"right_attic_grade": "2", "left_attic_grade": "1"})
    milder = SEEN | {"right_attic_grade": "1", "left_attic_grade": ""}
    path = write(tmp_path / "visits.csv", milder)
    said = r"take away 3: 1 × due that would close, 2 × finding\. P1: due that would close \(left "
    with pytest.raises(Refused, match=said):
        import_file(desk, path, "visits")
    worse = SEEN | {"right_attic_grade": "3", "left_attic_grade": "1"}
    take_in(desk, tmp_path, "visits", worse)
    assert '"attic_grade":3' in "".join(r["content"] for r in rows(store, tables.Findings))


def test_a_visit_that_moves_to_another_day_is_counted(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", SEEN)
    path = write(tmp_path / "visits.csv", SEEN | {"on": "2026-08-25"})
    with pytest.raises(Refused, match="1 × day of a visit"):
        import_file(desk, path, "visits")


def test_somebody_whose_name_and_birth_date_both_change_is_asked_about(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    path = write(tmp_path / "people.csv", PERSON | {"given_name": "Ada", "born": "2017-02-03"})
    with pytest.raises(Refused, match="name and birth date of somebody"):
        import_file(desk, path, "people")


def test_what_the_desk_found_since_stands_against_the_file(store: Store, tmp_path: Path) -> None:
    """Three ways: the file's old word, its new one, and what the desk recorded meanwhile."""
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", SEEN | {"right_attic_grade": "1"})
    with store.write() as session:
        (ear,) = session.query(tables.Findings).filter_by(ear="right").all()
        ear.content = ear.content.replace('"attic_grade":1', '"attic_grade":3')
    changed = SEEN | {"right_attic_grade": "2", "left_attic_grade": "1"}
    summary = take_in(desk, tmp_path, "visits", changed)
    (said,) = [p for p in summary.kept_aside if p.column == "right_attic_grade"]
    assert "the desk's stands" in said.wrong
    found = {r["ear"]: r["content"] for r in rows(store, tables.Findings)}
    assert '"attic_grade":3' in found["right"] and '"attic_grade":1' in found["left"]


def test_a_register_that_knows_no_single_findings_of_the_file_yet(
    store: Store, tmp_path: Path
) -> None:
    """Earlier versions kept one digest for a whole ear: the first file after them is safe, too."""
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", SEEN)
    with store.write() as session:
        (seen,) = session.query(tables.ImportSeen).filter_by(kind="visits").all()
        said = {n: v for n, v in json.loads(seen.fields).items() if "/" not in n}
        seen.fields = json.dumps(said | {"right": "0123456789ab", "left": "0123456789ab"})
    before = rows(store, tables.Visit), held(store)
    take_in(desk, tmp_path, "visits", SEEN | {"right_effusion": "absent"})
    assert (rows(store, tables.Visit), held(store)) == before
    take_in(desk, tmp_path, "visits", SEEN | {"note": "Sat on a lap."})
    (visit,) = rows(store, tables.Visit)
    assert (visit["note"], held(store)["Findings"][0]["content"]) == (
        "Sat on a lap.",
        before[1]["Findings"][0]["content"],
    )
