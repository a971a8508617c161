"""A corrected import can be confirmed: what a file changed waits, and confirming ends the wait."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import select

from recall.desk.core.session import Desk
from recall.desk.imports.proposing import propose
from recall.desk.plans.confirming import confirm_all, plans, waiting
from recall.desk.worklists.queue_lines import queue_lines
from recall.records import tables
from recall.records.database.store import Store
from recall.records.facts.confirmed import waiting_since
from tests.desk.files import PERSON, VISIT, desk_with, take_in, write
from tests.desk.practice import later

SEEN = VISIT | {
    "right_tensa_grade": "2",
    "left_wax_found": "occluding",
    "left_wax_left": "none",
    "right_hearing_1000": "35",
}
EARLIER = {"reference": "V0", "on": "2026-06-01"}
CHANGES = {
    "right_effusion": "absent",
    "right_tensa_grade": "3",
    "left_wax_found": "some",
    "right_hearing_1000": "",
    "left_drum_seen": "part",
    "on": "2026-08-30",
}


def says_unconfirmed(desk: Desk) -> set[str]:
    """Everything that says of the register that a plan is not confirmed."""
    found: set[str] = set()
    with desk.store.read() as session:
        for table in (tables.Due, tables.Referral):
            open_now = select(table.id).where(table.is_open, table.void_at.is_(None))
            if waiting_since(session, table, session.scalars(open_now).all()):
                found.add(table.__tablename__)
    months_later = later(desk, 300)
    if any("not confirmed" in " ".join(line.warnings) for line in queue_lines(months_later)):
        found.add("queue")
    if waiting(desk).visits or plans(desk):
        found.add("confirm")
    return found


@pytest.mark.parametrize("column", CHANGES)
@pytest.mark.parametrize("row", ["the last", "an earlier one"])
def test_what_a_file_changes_waits_until_it_is_confirmed(
    store: Store, tmp_path: Path, column: str, row: str
) -> None:
    desk = desk_with(store, tmp_path, by="clara")
    take_in(desk, tmp_path, "people", PERSON)
    visits = [SEEN | EARLIER, SEEN]
    take_in(desk, tmp_path, "visits", *visits)
    assert {"due", "confirm"} <= says_unconfirmed(desk)
    confirm_all(desk, waiting(desk).visits)
    assert says_unconfirmed(desk) == set()

    changed = 1 if row == "the last" else 0
    visits[changed] = visits[changed] | {column: CHANGES[column]}
    take_in(desk, tmp_path, "visits", *visits, takes_away=gone(desk, tmp_path, visits))
    assert "confirm" in says_unconfirmed(desk)
    assert waiting(desk).visits == 1
    confirm_all(desk, 1)
    assert says_unconfirmed(desk) == set()


def gone(desk: Desk, folder: Path, visits: list[dict[str, str]]) -> int | None:
    """The number that a file needs."""

    return len(propose(desk, write(folder / "visits.csv", *visits), "visits").losses) or None
