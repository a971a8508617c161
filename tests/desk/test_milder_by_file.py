"""What a file makes milder of what pressed waits for a second person, as a correction does."""

from __future__ import annotations

from pathlib import Path

import pytest

from recall.desk.imports.importing import import_file
from recall.desk.visits.milder import milder_lines, see_milder
from recall.errors import Refused
from recall.records.database.store import Store
from tests.desk.files import PERSON, VISIT, desk_with, replan, take_in, write
from tests.desk.practice import desk_at

POCKET = VISIT | {"right_attic_grade": "3", "right_keratin": "yes", "right_effusion": "absent"}
HEALED = POCKET | {"right_attic_grade": "0", "right_keratin": "no"}


def test_a_referral_that_a_file_ends_waits_for_a_second_person(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", POCKET)
    replan(desk)
    assert milder_lines(desk) == ()
    path = write(tmp_path / "visits.csv", HEALED)
    with pytest.raises(Refused) as told:
        import_file(desk, path, "visits")
    assert milder_lines(desk) == (), "nothing of a rehearsal is kept"
    import_file(desk, path, "visits", takes_away=int(told.value.hint.rstrip(".").split()[-1]))

    lines = milder_lines(desk)
    assert any(line.words.startswith("ENT, right ear, urgent") for line in lines)
    assert {(line.reference, line.by) for line in lines} == {("P1", "Rob Tanner")}
    assert {line.why for line in lines} == {"By the file visits.csv, run 3."}
    clinician = desk_at(store, by="clara")
    for line in lines:
        see_milder(clinician, line.number)
    assert milder_lines(desk) == ()


def test_a_visit_that_answers_is_no_correction(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    replan(desk)
    take_in(desk, tmp_path, "visits", VISIT, VISIT | {"reference": "V2", "on": "2026-09-05"})

    assert milder_lines(desk) == ()
