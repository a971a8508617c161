"""Small files of an invented practice, for the tests of taking them in."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date
from pathlib import Path

import msgspec
from sqlalchemy import select

from recall import config
from recall.desk.core.replanning import replan
from recall.desk.core.session import Desk
from recall.desk.imports.importing import ImportSummary, Kind, import_file
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import PRACTICE, desk_at

DAY = date(2026, 9, 7)
PERSON = {
    "reference": "P1",
    "given_name": "Rowan",
    "family_name": "Thackwell",
    "born": "2018-03-02",
    "address_1": "7 Teasel Row",
    "postcode": "WF99 4RR",
    "phone": "01632 960321",
    "risks": "",
    "adult_1_name": "Ida Thackwell",
    "adult_1_relation": "mother",
}
VISIT = {
    "reference": "V1",
    "person": "P1",
    "on": "2026-09-01",
    "examiner": "Clara Voss",
    "right_drum_seen": "full",
    "right_effusion": "present",
    "left_drum_seen": "full",
    "left_effusion": "absent",
    "note": "",
}
CONTACT = {"person": "P1", "on": "2026-09-04", "channel": "phone", "outcome": "no_answer"}
BOOKING = {"person": "P1", "on": "2026-10-01", "at": "10:20", "status": "made", "reference": "B1"}


def desk_with(store: Store, folder: Path, on: date = DAY, by: str = "rob") -> Desk:
    """The desk of a practice whose files lie in a folder."""
    files = config.Files(
        database=store.path, letters=folder / "letters", backups=folder / "backups"
    )
    settings = msgspec.structs.replace(PRACTICE, files=files)
    return replace(desk_at(store, on, by), config=settings)


def write(path: Path, *rows: dict[str, str]) -> Path:
    """Write a file with the headings of its first row."""
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.DictWriter(file, list(rows[0]))
        out.writeheader()
        out.writerows(rows)
    return path


def take_in(
    desk: Desk, folder: Path, kind: Kind, *rows: dict[str, str], takes_away: int | None = None
) -> ImportSummary:
    """Write a file, take it in, and plan whoever is to be planned."""
    path = write(folder / f"{kind}.csv", *rows)
    summary = import_file(desk, path, kind, takes_away=takes_away)
    replan(desk)
    return summary


def counts(summary: ImportSummary) -> tuple[int, int, int, int]:
    """Added, changed, unchanged, rejected."""
    return summary.added, summary.changed, summary.unchanged, summary.rejected


def to_plan(store: Store) -> list[int]:
    """Whoever waits to be planned."""
    with store.read() as session:
        return list(session.scalars(select(tables.ToPlan.person_id)))


def lost_in_april(store: Store, tmp_path: Path, **about: str) -> Desk:
    """Somebody whose contact steps were used up, as files tell it: the last one is a check."""
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", {**PERSON, **about})
    take_in(desk, tmp_path, "visits", {**VISIT, "on": "2026-01-05"})
    tries = [
        ("2026-01-20", "letter", "message_sent"),
        ("2026-02-20", "phone", "no_answer"),
        ("2026-02-25", "phone", "no_answer"),
        ("2026-03-10", "letter", "message_sent"),
        ("2026-04-01", "phone", "address_checked"),
    ]
    by = [t for t in tries if t[1] == "phone" or about.get("address_1", "any")]
    names = ("person", "on", "channel", "outcome")
    take_in(desk, tmp_path, "contacts", *(dict(zip(names, ("P1", *t), strict=True)) for t in by))
    return desk
