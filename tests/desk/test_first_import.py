"""A practice's first import: its own headings and words are guessed, checked, and land."""

from __future__ import annotations

import csv
import random
import tomllib
from datetime import date, timedelta
from pathlib import Path

import msgspec

from recall.config import Import
from recall.desk.imports.importing import import_file
from recall.exchange import looking
from recall.exchange.cells import Cells
from recall.exchange.columns import KINDS
from recall.exchange.looking import Looked, as_toml, look_at, order_guessed
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.files import DAY, desk_with
from tests.desk.practice import rows

PEOPLE = (
    "Record no", "Forenames", "Surname", "D.O.B.", "M/F", "Street", "Town", "Post code", "Mobile",
    "Landline", "E-mail", "Surgery", "Alerts", "Parent", "Parent mobile", "No contact", "Cabinet",
)  # fmt: skip
VISITS = (
    "Visit no", "Record no", "Seen on", "Seen by", "Plan", "R wax", "L wax", "R wax after",
    "L wax after", "R drum", "L drum", "R fluid", "L fluid", "R perf", "L perf", "R canal",
    "L canal", "Symptoms", "Story",
)  # fmt: skip
"""With those of people 36 headings, of which three are ours in no case."""
WAX = ("impacted", "blocked", "heaps", "a little", "nil", "moderate", "clear", "packed solid")
DRUM = ("all", "seen", "partly", "not seen", "peeped", "Perf")
FLUID = ("Y", "glue", "N", "maybe", "dry")
HOLE = ("hole", "nil", "dry perf")
CANAL = ("NAD", "sore", "fungus", "flaky")
ALERTS = ("Downs", "warfarin", "Hearing aids", "diabetic", "chemo", "cleft", "Nut allergy")
SEX = ("F", "M", "girl", "boy", "U")
PLAN = ("Routine", "")
"""Forty words of the practice's own."""
BY_HAND = {
    "wax_found": {"packed solid": "occluding"},
    "wax_left": {"packed solid": "occluding"},
    "drum_seen": {"peeped": "part", "Perf": "drum_seen = full; perforation = central"},
    "canal_skin": {"flaky": "eczema"},
    "risks": {"Nut allergy": ""},
}
"""What whoever checks the guesses has to say."""
COUNT = 200


def people(draw: random.Random) -> list[dict[str, str]]:
    found = []
    for n in range(COUNT):
        born = date(1940, 1, 1) + timedelta(days=draw.randrange(29_000))
        child = born.year > 2008
        cells = {
            "Record no": f"W{1000 + n}", "Forenames": draw.choice(("Orla", "Siân", "Basil")),
            "Surname": draw.choice(("Fenwick", "Marsh", "Ó Briain")),
            "D.O.B.": born.strftime("%d/%m/%Y"), "M/F": draw.choice(SEX), "Street": "8 Rise",
            "Town": "Wrenfield", "Post code": "WF99 5PE", "Mobile": f"07700 900{n % 1000:03}",
            "Landline": "", "E-mail": "", "Surgery": "Millrace Surgery",
            "Alerts": "; ".join(draw.sample(ALERTS, draw.randrange(3))),
            "Parent": "Ms Tess Fenwick" if child and n % 2 else "",
            "Parent mobile": "07700 900811" if child else "", "No contact": "", "Cabinet": "B",
        }  # fmt: skip
        found.append(cells)
    found[7]["D.O.B."] = "31/02/1956"
    found[9]["Surname"] = ""
    return found


def visits(draw: random.Random) -> list[dict[str, str]]:
    found = []
    for n in range(COUNT):
        on = date(2024, 1, 1) + timedelta(days=draw.randrange(900))
        cells = {
            "Visit no": f"V{n}", "Record no": f"W{1000 + n}", "Seen on": on.strftime("%d/%m/%Y"),
            "Seen by": "A. Quill", "Plan": draw.choice(PLAN), "Symptoms": "",
            "Story": "Came with a friend, who waited outside and had tea." if n % 3 else "",
        }  # fmt: skip
        for ear in "RL":
            cells |= {f"{ear} wax": draw.choice(WAX), f"{ear} wax after": "nil"}
            drum = draw.choice(DRUM)
            fluid = "" if drum == "not seen" else draw.choice(FLUID)
            cells |= {f"{ear} drum": drum, f"{ear} fluid": fluid}
            cells |= {f"{ear} perf": "", f"{ear} canal": draw.choice(CANAL)}
        found.append(cells)
    found[11]["R drum"] = "foggy"
    return found


def write(path: Path, headings: tuple[str, ...], told: list[dict[str, str]]) -> Path:
    """A title stands above the headings, as reports have it."""
    with path.open("w", encoding="cp1252", newline="") as file:
        file.write("Wrenfield Ear Care,list of the day\r\n\r\n")
        out = csv.DictWriter(file, headings)
        out.writeheader()
        out.writerows(told)
    return path


def checked(found: Looked, more: dict[str, dict[str, str]]) -> Import:
    """The guesses as they were written, with what somebody added by hand."""
    told = tomllib.loads(as_toml([found], order_guessed(found, "DD/MM/YYYY")))["import"]
    values = told[found.kind.name].setdefault("values", {})
    for column in found.unknown:
        values[column] = values.get(column, {}) | more.get(column, {})
    return msgspec.convert(told, Import)


def test_a_practices_first_import_lands_after_its_words_were_checked(
    store: Store, tmp_path: Path
) -> None:
    draw, desk = random.Random(11), desk_with(store, tmp_path)
    sent_back: list[dict[str, str]] = []
    landed = 0
    for kind, headings, told in (
        ("people", PEOPLE, people(draw)),
        ("visits", VISITS, visits(draw)),
    ):
        path = write(tmp_path / f"{kind}.csv", headings, told)
        found = look_at(path, KINDS.values(), Cells("DD/MM/YYYY", "GB", DAY))
        assert (found.kind.name, found.rows, found.table.heading_line) == (kind, COUNT, 3)
        desk = with_imports(desk, checked(found, BY_HAND))
        summary = import_file(desk, path, kind)  # type: ignore[arg-type]
        landed += summary.added
        assert summary.rejects_path is not None
        text = summary.rejects_path.read_text("utf-8-sig")
        sent_back += list(csv.DictReader(text.splitlines()))
    assert landed > 0.95 * 2 * COUNT
    assert len(sent_back) == 2 * COUNT - landed
    assert all(row["reject_column"] and row["reject_right"] for row in sent_back)
    held = {ear["content"] for ear in rows(store, tables.Findings)}
    assert any('"drum_seen":"full"' in c and '"perforation":"central"' in c for c in held)
    noted = [v["note"] for v in rows(store, tables.Visit) if v["note"]]
    assert noted and all(note.startswith("Story: Came with") for note in noted)


def with_imports(desk, imports):  # type: ignore[no-untyped-def]
    from dataclasses import replace

    return replace(desk, config=msgspec.structs.replace(desk.config, imports=imports))


def test_what_is_guessed_and_what_is_not_is_told(tmp_path: Path) -> None:
    draw = random.Random(11)
    people(draw)
    path = write(tmp_path / "visits.csv", VISITS, visits(draw))
    found = look_at(path, KINDS.values(), Cells("DD/MM/YYYY", "GB", DAY))
    told = as_toml([found], "DD/MM/YYYY")
    assert "[import.visits.values.wax_found]" in told  # one table for both ears
    assert '"impacted" = "occluding"' in told
    assert '# "packed solid" = ?  in ' in told
    assert 'notes = ["Story"]' in told
    assert set(found.unknown["drum_seen"]) == {"Perf", "foggy", "peeped"}


def test_every_usual_word_is_a_word_of_some_column() -> None:
    """The data is looked up by our own words: one that no column reads would never be found."""
    cells = Cells("DD/MM/YYYY", "GB", DAY)
    columns = [c for kind in KINDS.values() for c in kind.columns]
    known = {c.name for c in columns} | {c.name.partition("_")[2] for c in columns}
    for kind, headings in looking.usual()["headings"].items():
        assert [name for name in headings if name not in known] == [], kind
    for ours in looking.usual()["words"]:
        assert any(c.takes_words and reads(c, cells, ours) for c in columns), ours


def reads(column, cells, word):  # type: ignore[no-untyped-def]
    from recall.exchange.problem import Wrong

    try:
        column.decode(cells, word)
    except Wrong:
        return False
    return True
