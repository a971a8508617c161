"""What files of referrals, tests and changes make of a whole practice, and of taking them back."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

from recall.desk.core.replanning import replan
from recall.desk.core.session import Desk
from recall.desk.imports.importing import import_file, kind_of
from recall.desk.imports.proposing import propose
from recall.desk.imports.taking_back import look_at_taking_back, take_back
from tests.desk.files import write
from tests.desk.telling import Story
from tests.desk.whole_practice import ON

SENT = dict.fromkeys(
    ("person", "service", "ear", "sent", "accepted", "seen", "result", "result_on", "ended",
     "ended_because", "under_care", "note", "reference"), "")  # fmt: skip
REFERRALS = (
    SENT | {"person": "W1437", "service": "ent", "ear": "left", "sent": "25/09/2025",
            "accepted": "02/10/2025", "seen": "09/10/2025", "reference": "R1"},
    SENT | {"person": "W1569", "service": "ent", "ear": "left", "sent": "16/04/2025",
            "seen": "02/06/2025", "result": "Grommets put in.", "result_on": "09/06/2025",
            "under_care": "yes", "note": "By post.", "reference": "R2"},
    SENT | {"person": "W1497", "service": "paediatric_audiology", "sent": "22/10/2025",
            "ended": "01/12/2025", "ended_because": "informed_decline"},
    SENT | {"person": "W1333", "service": "ent", "ear": "left", "sent": "14/01/2026",
            "accepted": "12/01/2026"},
    SENT | {"person": "W1021", "service": "ent", "ear": "left", "sent": "14/01/2026"},
    SENT | {"person": "W1477", "service": "ent", "ear": "left", "sent": "12/03/2024",
            "result": "Clear."},
    SENT | {"person": "W9999", "service": "ent", "sent": "14/01/2026"},
    SENT | {"person": "W1501", "service": "vet", "sent": "30/02/2026"},
)  # fmt: skip
MORE = (
    REFERRALS[0] | {"result": "Operated on.", "result_on": "01/12/2025"},
    REFERRALS[1] | {"note": ""},
    SENT | {"person": "W1501", "service": "ent", "ear": "both", "sent": "20/08/2026"},
)
TEST = dict.fromkeys(
    ("person", "on", "where", "right_hearing_tested", "left_hearing_tested", "right_hearing_500",
     "right_hearing_1000", "right_hearing_2000", "right_hearing_4000", "left_tympanogram"), "",
)  # fmt: skip
TESTS = (
    TEST | {"person": "W1145", "on": "2026-05", "where": "Elm House",
            "right_hearing_tested": "yes", "left_hearing_tested": "yes"},
    TEST | {"person": "W1249", "on": "03/08/2026", "where": " Elm House ",
            "right_hearing_500": "20", "right_hearing_1000": "25",
            "right_hearing_2000": "40", "right_hearing_4000": "65"},
    TEST | {"person": "W1565", "on": "03/08/2026", "where": "School", "left_tympanogram": "B"},
    TEST | {"person": "W1565", "on": "03/08/2026", "where": "School"},
    TEST | {"person": "W1477", "on": "2026-13", "where": "School", "left_hearing_tested": "yes"},
    TEST | {"person": "W1477", "on": "2027-01", "where": "School", "left_hearing_tested": "yes"},
    TEST | {"person": "W1477", "on": "2026-01", "where": "School", "left_hearing_tested": "no"},
    TEST | {"person": "W1477", "on": "2026-01", "where": "", "left_hearing_tested": "yes"},
)  # fmt: skip


def proposed(desk: Desk, path: Path, kind: Any) -> object:
    """Return what a file would change, and what it would take away."""
    found = propose(desk, path, kind)
    counts = found.added, found.changed, found.unchanged, found.answered, found.rejected
    return counts, found.taken_away, found.losses, found.kept, found.told, kind_of(path, desk)


def taken(desk: Desk, path: Path, kind: Any, gone: int | None) -> object:
    summary = import_file(desk, path, kind, takes_away=gone)
    refused = summary.rejects_path.read_text("utf-8-sig") if summary.rejects_path else ""
    replan(desk)
    return summary, refused.splitlines()[1:]


def landed(told: Story, folder: Path, kind: str, *rows: dict[str, str]) -> None:
    """Tell what a file would do and what it does."""
    path = write(folder / f"{kind}.csv", *rows)
    told("what it would change", proposed, path, kind)
    gone = len(propose(told.desk, path, kind).losses) or None  # type: ignore[arg-type]
    if gone:
        told("without the number", taken, path, kind, None)
    told("taken in", taken, path, kind, gone)


def test_all_that_files_of_referrals_write(whole: Desk, tmp_path: Path) -> None:
    told = Story(whole)
    told.at(ON + timedelta(days=1), "rob")
    landed(told, tmp_path, "referrals", *REFERRALS)
    told.at(ON + timedelta(days=2), "rob")
    landed(told, tmp_path, "referrals", *MORE)
    told("no run", look_at_taking_back, 99)
    told("an earlier run", look_at_taking_back, 5)
    told("what taking back would do", look_at_taking_back, 6)
    told("taken back", take_back, 6)
    told("again", take_back, 6)
    told("the first one too", take_back, 5)
    told.agrees("whole_referrals_file")


def test_all_that_files_of_tests_write(whole: Desk, tmp_path: Path) -> None:
    told = Story(whole)
    told.at(ON + timedelta(days=1), "rob")
    landed(told, tmp_path, "tests", *TESTS)
    told.at(ON + timedelta(days=2), "rob")
    landed(told, tmp_path, "tests", TESTS[0] | {"on": "2026-06"}, TESTS[1])
    told("taken back", take_back, 6)
    told("the first one too", take_back, 5)
    told.agrees("whole_tests_file")


def test_all_that_taking_the_first_files_back_writes(whole: Desk) -> None:
    told = Story(whole)
    told.at(date(2026, 9, 8), "rob")
    for run in (4, 3, 2, 1):
        told(f"what taking run {run} back would do", look_at_taking_back, run)
    told("bookings", take_back, 4)
    told("contacts", take_back, 3)
    told("planned anew", replan)
    told.agrees("whole_taken_back")
