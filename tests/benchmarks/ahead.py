"""What the weeks ahead cost against a bare scan of the same tables; run by hand.

    python tests/benchmarks/ahead.py [PEOPLE]

Floor: every row of the tables that they read, fetched by the database driver alone, in the same
run. The accounts stand beside them, against the same floor.
"""

from __future__ import annotations

import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from recall.accounts.cohort import Cohort, Period
from recall.desk.oversight.accounts import accounts
from recall.desk.oversight.ahead import Change, ahead, levelled, what_if
from recall.desk.worklists.call_card import call_cards, order
from recall.records.database.store import open_store
from tests.benchmarks.bare import scan, timed
from tests.benchmarks.failsafe import fill
from tests.desk.practice import DAY, desk_at

READ = (
    *("person", "visit", "due", "due_event", "follow_up", "follow_up_due"),
    *("booking", "booking_event", "also_about", "staff"),
)
CARDS = 20
"""A page of the list of whom to ring."""


def main() -> None:
    """Print what each view of the weeks ahead costs, per person and against the floor."""
    people = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "register.db"
        fill(path, people)
        floor = min(scan(path, READ) for _ in range(3))
        store = open_store(path)
        desk = desk_at(store, DAY + timedelta(days=1), "clara")
        quarter = Cohort(Period(date(2026, 10, 1), date(2026, 12, 31)))
        found, queue = ahead(desk), order(desk)
        away = Change(open_on=date(2026, 9, 5))
        took = {
            "accounts of a quarter": timed(lambda: accounts(desk, quarter)),
            "the weeks ahead": timed(lambda: ahead(desk)),
            "their sums": timed(found.whole.weeks),
            "levelled": timed(lambda: levelled(desk, found)),
            "what if": timed(lambda: what_if(desk, found, away)),
        }
        cards = timed(lambda: call_cards(desk, queue[:CARDS]))
        placed = len(found.to_place)
        store.close()
    print(f"{people} people; floor, a bare scan: {1e6 * floor / people:.1f} µs a person")
    for what, seconds in took.items():
        ratio = seconds / floor
        print(f"{what:<24}{1e6 * seconds / people:>9.1f} µs a person{ratio:>7.1f} times the floor")
    print(f"levelled: {placed} pieces; {CARDS} call cards with a day to propose: {cards:.3f} s")


if __name__ == "__main__":
    main()
