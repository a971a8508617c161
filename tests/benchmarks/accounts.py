"""What the accounts cost against a bare scan of the same tables; run by hand.

    python tests/benchmarks/accounts.py [PEOPLE]

Floor: every row of the tables that the accounts read, fetched by the database driver alone, in
the same run.
"""

from __future__ import annotations

import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from recall.accounts.cohort import EVER, Cohort, Period
from recall.desk.oversight import failsafe_sums
from recall.desk.oversight.accounts import accounts
from recall.desk.oversight.report import register_report
from recall.desk.oversight.returns import came_back
from recall.records.database.store import open_store
from tests.benchmarks.bare import scan, timed
from tests.benchmarks.failsafe import fill
from tests.desk.practice import DAY, desk_at

READ = (
    *("person", "visit", "due", "due_event", "decision", "follow_up", "follow_up_due"),
    *("referral", "referral_event", "contact", "letter", "booking"),
)


def main() -> None:
    """Print what each view of the accounts costs, per person and against the floor."""
    people = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "register.db"
        fill(path, people)
        floor = min(scan(path, READ) for _ in range(3))
        store = open_store(path)
        desk = desk_at(store, DAY + timedelta(days=1), "clara")
        quarter = Cohort(Period(date(2026, 10, 1), date(2026, 12, 31)))
        with desk.store.read() as session:
            sums = timed(lambda: list(failsafe_sums.check(desk, session)))
        took = {
            "accounts of a quarter": timed(lambda: accounts(desk, quarter)),
            "accounts of everything": timed(lambda: accounts(desk, Cohort(EVER))),
            "who came back": timed(lambda: came_back(desk)),
            "report": timed(lambda: register_report(desk, DAY)),
            "the check of the sums": sums,
        }
        store.close()
    print(f"{people} people; floor, a bare scan: {1e6 * floor / people:.1f} µs a person")
    for what, seconds in took.items():
        ratio = seconds / floor
        print(f"{what:<24}{1e6 * seconds / people:>9.1f} µs a person{ratio:>7.1f} times the floor")


if __name__ == "__main__":
    main()
