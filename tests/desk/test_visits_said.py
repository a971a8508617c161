"""What is kept of a file's new visits is what is kept of visits that are told again."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from recall.config import Import
from recall.desk.imports.file_digests import as_kept
from recall.desk.imports.visit_changes import EarTexts, Said, said, visit_fields
from recall.exchange.visits_in import read_visits
from tests.desk.files import VISIT, write

FULL = {"reported": "pain; vertigo", "note": "Ó [/b], \"so\" 'it' was", "category": "fluid_recheck"}
ROWS = (
    VISIT,
    VISIT | FULL | {"reference": "V2", "examiner": "Ivor Ash"},
    VISIT | FULL | {"reference": "V3", "examiner": "", "right_wax_found": "occluding"},
    VISIT | {"reference": "V4", "left_wax_found": "partial", "left_drum_seen": "full"},
    VISIT | {"reference": "V5", "right_wax_found": "partial", "right_drum_seen": "full"},
    {name: VISIT[name] for name in ("reference", "person", "on")}
    | {"findings": '{"left": {"wax_found": "partial"}}'},
)


def test_new_visits_are_kept_as_ones_that_are_told_again(tmp_path: Path) -> None:
    told = [
        read.row
        for n, row in enumerate(ROWS)
        for read in read_visits(
            write(tmp_path / f"{n}.csv", row), Import(), today=date(2026, 11, 25)
        )
    ]
    assert None not in told
    new = Said(EarTexts())
    for row in told:
        assert row and new.of(row) == as_kept(said(visit_fields(row), {}, ()))
