"""Free text is read: a file's notes are shown where the visit is, and searched for alarm."""

from __future__ import annotations

from pathlib import Path

import pytest

from recall.desk.people.person_card import person
from recall.desk.people.timeline import timeline
from recall.desk.plans.confirming import plans, waiting
from recall.records.database.store import Store
from tests.desk.files import PERSON, VISIT, desk_with, take_in

FACE = "Mum rang: his face is droopy since Monday.\nSaid to come back if worse."
CALM = {"right_effusion": "absent", "left_effusion": "absent"}


def test_the_note_of_a_visit_is_shown_wherever_the_visit_is(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    older = VISIT | {"reference": "V0", "on": "2026-03-01"}
    take_in(desk, tmp_path, "visits", VISIT | {"note": FACE}, older)
    card = person(desk, "P1", clinical=True)
    assert [(str(v.on), v.note) for v in card.visits] == [("2026-09-01", FACE), ("2026-03-01", "")]
    told = [str(line) for line in timeline(desk, "P1") if "visit" in line.says]
    assert sum("his face is droopy since Monday. Said to come back" in line for line in told) == 1
    (plan,) = plans(desk)
    assert plan.notes == (FACE,)


@pytest.mark.parametrize(
    ("note", "speaks_of"),
    [
        (FACE, "weak face"),
        ("Sudden hearing loss on the right, two days.", "sudden hearing loss"),
        ("Bled again after the last suction", "blood"),
        ("No facial weakness, no vertigo.", ""),
        ("Lovely chat about the garden.", ""),
    ],
)
def test_words_of_alarm_come_first_in_confirming(
    store: Store, tmp_path: Path, note: str, speaks_of: str
) -> None:
    """A calm ear with an alarming note stands before an ear that asks for more."""
    desk = desk_with(store, tmp_path)
    other = PERSON | {"reference": "P2", "given_name": "Ivor", "born": "2012-05-06"}
    take_in(desk, tmp_path, "people", PERSON, other)
    calm = VISIT | CALM | {"reference": "V2", "person": "P2", "note": note}
    take_in(desk, tmp_path, "visits", VISIT, calm)
    found = plans(desk)
    assert {plan.reference: plan.alarm for plan in found} == {"P1": "", "P2": speaks_of}
    assert found[0].reference == ("P2" if speaks_of else "P1")
    assert waiting(desk).alarms == (("P2",) if speaks_of else ())
