"""What the failsafe costs against a bare scan of the same tables; run by hand.

    python tests/benchmarks/failsafe.py [PEOPLE]

Floor: every row of the tables that the failsafe reads, fetched by the database driver alone, in
the same run.
"""

from __future__ import annotations

import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

import msgspec
from sqlalchemy import insert
from sqlalchemy.orm import Session

sys.path.insert(0, str(Path(__file__).parents[2]))

from recall.care.case import Case
from recall.care.ear import Ear
from recall.desk.core.replanning import NO_END, decided_by_people, mark_everybody, replan
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe, failsafe_plan, failsafe_sums
from recall.desk.oversight.failsafe_open import check_people, check_register
from recall.records import tables
from recall.records.database.bulk import seldom_collected
from recall.records.database.store import open_store
from recall.records.database.upgrade import upgrade
from recall.records.facts.cases import cases_of
from recall.records.tables import Staff
from recall.schedule.fold import fold
from tests.benchmarks.bare import scan, timed
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


def parts(desk: Desk, session: Session) -> dict[str, float]:
    """Return what each part of a pass takes: the facts, the sums, the plans; and bare planning.

    Page by page, as a pass goes: none of them has the histories of a whole register in memory.
    """
    took = dict.fromkeys(("facts", "sums", "plans", "cases read", "plans computed"), 0.0)
    ids = failsafe.page(session, 0)
    while ids:
        for what, seconds in _page_parts(desk, session, ids).items():
            took[what] += seconds
        ids = failsafe.page(session, ids[-1])
    took["facts"] += timed(lambda: [*check_register(desk, session)])
    took["sums"] = timed(lambda: [*failsafe_sums.check(desk, session)])
    return took


def _page_parts(desk: Desk, session: Session, page: list[int]) -> dict[str, float]:
    cases: dict[int, Case] = {}
    decided = decided_by_people(session, page)

    def compute() -> None:
        for who, case in cases.items():
            kept = decided.get(who, ())
            fold(case, desk.protocol, NO_END, decisions=kept, population=desk.populations)

    return {
        "facts": timed(lambda: [*check_people(desk, session, page)]),
        "plans": timed(lambda: [*failsafe_plan.check(desk, session, page)]),
        "cases read": timed(lambda: cases.update(cases_of(session, page))),
        "plans computed": timed(compute),
    }


def main() -> None:
    """Print what a pass costs, per person: facts against the floor, plans against planning."""
    people = int(sys.argv[1]) if len(sys.argv) > 1 else 5_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "register.db"
        fill(path, people)
        floor = min(scan(path, READ) for _ in range(3))
        store = open_store(path)
        desk = desk_at(store, DAY, "clara")
        with seldom_collected(), store.read() as session:  # as a pass of the failsafe does
            took = parts(desk, session)
        whole = timed(lambda: failsafe.run(desk))
        store.close()
    print(f"{people} people; floor, a bare scan: {1e6 * floor / people:.1f} µs a person")
    for what, seconds in {**took, "whole pass": whole}.items():
        print(f"{what:<16}{1e6 * seconds / people:>9.1f} µs a person{seconds / floor:>7.1f} scans")
    again = took["plans"] / took["plans computed"]
    with_cases = took["plans"] / (took["plans computed"] + took["cases read"])
    print(f"plans out again: {again:.2f} times computing them, {with_cases:.2f} with their cases")


if __name__ == "__main__":
    main()
