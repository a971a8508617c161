"""A second file of each kind that changes one thing of each person, and what comes of each."""

from __future__ import annotations

import csv
from datetime import timedelta
from pathlib import Path

from recall.desk.core.session import Desk
from tests.desk.telling import Story
from tests.desk.test_whole_files import landed
from tests.desk.whole_practice import ON

PEOPLE: dict[str, dict[str, str]] = {
    "W1021": {"given_name": "Ray"},
    "W1045": {"born": "31/12/1939"},
    "W1101": {"given_name": "Zita", "family_name": "Umber", "born": "01/02/1961"},
    "W1145": {"sex": "other", "risks": "learning_disability; diabetes"},
    "W1169": {"deceased_on": ""},
    "W1241": {"address_1": "9 Teasel Row", "address_2": "Wrenfield", "postcode": "WF99 4RT"},
    "W1245": {"phone": "01632 960399", "risks": ""},
    "W1249": {"adult_1_name": "", "adult_1_relation": ""},
    "W1333": {"email": "new@example.org", "phone_2": "12"},
    "W1365": {"language": "xx", "letter_format": "large"},
    "W1437": {"phone": "07700 900444"},
    "W1445": {"tell_gp": "no", "gp_practice": "Mill Surgery"},
    "W1473": {"adult_1_name": "Mr Ilan Bogdan", "adult_1_relation": "father"},
    "W1477": {"adult_1_phone": "07700 900555"},
    "W1485": {"nhs_number": "999 000 8116"},
    "W1489": {"deceased_on": "01/09/2026"},
    "W1497": {"family_name": "Orme", "adult_1_phone": ""},
    "W1501": {"born": "22/03/2032"},
    "W1509": {"given_name": ""},
    "W1521": {"reference": "W2521"},
}
VISITS: dict[str, dict[str, str]] = {
    "W1021": {"note": "A long note."},
    "W1101": {"examiner": "Nobody known"},
    "W1145": {"right_wax_left": "occluding"},
    "W1245": {"category": "refer"},
    "W1333": {"on": "01/09/2026"},
    "W1365": {"right_cavity": "no"},
    "W1473": {"left_tensa_grade": "9"},
    "W1477": {"reported": "pain left since 2026-08-20"},
    "W1497": {"right_effusion": "absent", "left_effusion": "absent"},
    "W1501": {"person": "W1509"},
    "W1569": {"right_effusion": "present"},
}
CONTACTS: dict[str, dict[str, str]] = {
    "W1021": {"note": "Another note."},
    "W1045": {"outcome": "declines"},
    "W1101": {"on": "18/08/2026"},
    "W1145": {"channel": "owl"},
    "W1485": {"by": "Nobody known", "at": "25:10"},
}
BOOKINGS: dict[str, dict[str, str]] = {
    "W1145": {"status": "attended"},
    "W1249": {"at": "16:40"},
    "W1365": {"minutes": "45", "with": "Nobody known"},
    "W1477": {"status": "made"},
    "W1549": {"on": "15/09/2026"},
    "W1565": {"person": "W9999"},
}


def changed(folder: Path, kind: str, changes: dict[str, dict[str, str]]) -> list[dict[str, str]]:
    """Return the rows of a practice's file, the last one of each of these people changed."""
    with (folder / f"{kind}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    left = dict(changes)
    for row in reversed(rows):
        row.update(left.pop(row["reference" if kind == "people" else "person"], {}))
    assert not left
    return rows


def told_of(whole: Desk, to: Path, kind: str, changes: dict[str, dict[str, str]]) -> None:
    told = Story(whole)
    told.at(ON + timedelta(days=1), "rob")
    landed(told, to, kind, *changed(whole.store.path.parent, kind, changes))
    told.agrees(f"whole_{kind}_changed")


def test_one_thing_of_each_person(whole: Desk, tmp_path: Path) -> None:
    told_of(whole, tmp_path, "people", PEOPLE)


def test_one_thing_of_each_visit(whole: Desk, tmp_path: Path) -> None:
    told_of(whole, tmp_path, "visits", VISITS)


def test_one_thing_of_each_contact(whole: Desk, tmp_path: Path) -> None:
    told_of(whole, tmp_path, "contacts", CONTACTS)


def test_one_thing_of_each_booking(whole: Desk, tmp_path: Path) -> None:
    told_of(whole, tmp_path, "bookings", BOOKINGS)
