"""What the failsafe costs against a bare scan of the same tables; run by hand.

    python tests/benchmarks/failsafe.py [PEOPLE]

Floor: every row of the tables that the failsafe reads, fetched by the database driver alone, in
the same run.
"""

from __future__ import annotations

import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

import msgspec
from sqlalchemy import insert

sys.path.insert(0, str(Path(__file__).parents[2]))

from recall.care.ear import Ear
from recall.desk.core.replanning import mark_everybody, replan
from recall.desk.oversight import failsafe
from recall.records import tables
from recall.records.database.store import open_store
from recall.records.database.upgrade import upgrade
from recall.records.tables import Staff
from tests.benchmarks.bare import scan
from tests.conftest import NOW
from tests.desk.practice import CLEAR, DAY, FLUID, KERATIN, desk_at

READ = (
    "person",
    "visit",
    "findings",
    "due",
    "due_event",
    "follow_up",
    "follow_up_due",
    "contact_point",
    "referral",
    "contact",
    "letter",
    "booking",
)


def fill(path: Path, people: int) -> None:
    """People with two visits each, planned."""
    upgrade(path, at=NOW)
    store = open_store(path)
    with store.write() as session:
        session.add(
            Staff(handle="clara", name="Clara Voss", role="clinical_lead", title="Audiologist")
        )
    made = {"recorded_at": NOW, "by_id": 1}
    ears = [msgspec.json.encode(ear).decode() for ear in (FLUID, CLEAR, KERATIN, Ear())]
    with store.write() as session:
        numbers = range(1, people + 1)
        rows = [
            {"id": n, "ref": f"W{n}", "family_name": f"Name{n}", "born": date(2019, 1, 1), **made}
            for n in numbers
        ]
        session.execute(insert(tables.Person), [{"on": DAY, **row} for row in rows])
        phones = {"kind": "phone", "raw": "01632 960123", "value": "+441632960123", **made}
        session.execute(
            insert(tables.ContactPoint), [{"person_id": n, "on": DAY, **phones} for n in numbers]
        )
        days = (DAY - timedelta(weeks=30), DAY)
        visits = [
            {"id": 2 * n + k - 1, "person_id": n, "on": on, "source": "entered", **made}
            for n in numbers
            for k, on in enumerate(days)
        ]
        session.execute(insert(tables.Visit), visits)
        seen = [
            {"visit_id": v["id"], "ear": ear, "content": ears[(v["id"] + k) % 4]}
            for v in visits
            for k, ear in enumerate(("right", "left"))
        ]
        session.execute(insert(tables.Findings), seen)
    desk = desk_at(store, DAY, "clara")
    mark_everybody(desk)
    replan(desk)
    store.close()


def main() -> None:
    """Print what a pass costs, per person and against the floor."""
    people = int(sys.argv[1]) if len(sys.argv) > 1 else 5_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "register.db"
        fill(path, people)
        floor = scan(path, READ)
        store = open_store(path)
        desk = desk_at(store, DAY, "clara")
        start = time.process_time()
        report = failsafe.run(desk)
        took = time.process_time() - start
        store.close()
    print(f"{people} people, {len(report.findings)} found")
    print(f"floor, a bare scan: {1e6 * floor / people:.1f} µs a person")
    print(f"failsafe: {1e6 * took / people:.1f} µs a person, {took / floor:.1f} times the floor")


if __name__ == "__main__":
    main()
