"""How the register behaves as it grows; run by hand, prints ratios to a floor in the same run.

    python tests/benchmarks/records.py [PEOPLE]

Floors: for reading cases, the same rows fetched by the database driver alone; for storing
ledgers, a bare executemany of the same number of rows; for finding and lists, one lookup of a
row by its number.
"""

from __future__ import annotations

import random
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec
from sqlalchemy import insert

from recall.care.ear import Ear
from recall.records import tables
from recall.records.database.store import Store, open_store
from recall.records.database.upgrade import upgrade
from recall.records.facts import candidates
from recall.records.facts.cases import all_cases
from recall.records.ledger.storing import Opening, Who, store_ledgers
from recall.records.people.finding import find, rekey
from recall.schedule.plan import Due, FollowUp, Ledger

START = date(2023, 9, 1)
NOW = datetime(2026, 9, 1, 9, tzinfo=UTC)
MADE = {"on": START, "recorded_at": NOW, "by_id": 1}
SYLLABLES = [
    "mar",
    "sh",
    "ten",
    "wick",
    "bro",
    "ford",
    "ley",
    "hol",
    "lan",
    "ste",
    "wil",
    "ham",
    "ton",
    "dun",
    "per",
    "ry",
    "gra",
    "fen",
    "cas",
    "del",
]
GIVEN = [
    "Ann",
    "Sian",
    "Tom",
    "Aoife",
    "Ruth",
    "Owen",
    "Ines",
    "Karl",
    "Maya",
    "Lewis",
    "Petra",
    "Amir",
    "Joan",
    "Felix",
    "Nora",
    "Ivan",
]
QUERIES = (
    "holton",
    "marshten",
    "hamfodr",
    "ann wickley",
    "12/03/1961",
    "960123",
    "W4242",
    "m",
    "tom h",
    "zzyzx",
)


def name(rng: random.Random) -> str:
    return "".join(rng.choices(SYLLABLES, k=rng.choice((2, 3, 3)))).title()


SEEN = msgspec.json.encode(Ear(wax_found="occluding", wax_left="none", drum_seen="full")).decode()


def person_values(rng: random.Random, n: int) -> dict[str, Any]:
    return {
        "id": n,
        "ref": f"W{n}",
        "given_names": rng.choice(GIVEN),
        "family_name": name(rng),
        "born": date(1935, 1, 1) + timedelta(days=rng.randrange(31000)),
        **MADE,
    }


def phone_values(rng: random.Random, n: int) -> dict[str, Any]:
    value = f"+441632960{rng.randrange(1000):03}"
    return {"person_id": n, "kind": "phone", "raw": "", "value": value, **MADE}


def visit_values(rng: random.Random, n: int, k: int) -> dict[str, Any]:
    own = {"id": 3 * (n - 1) + k + 1, "person_id": n, "source": "entered", **MADE}
    on = START + timedelta(days=rng.randrange(1000))
    return {**own, "confirmed_at": NOW, "confirmed_by_id": 1, "on": on}


def fill(store: Store, people: int) -> None:
    rng, numbers = random.Random(5), range(1, people + 1)
    with store.write() as session:
        session.add(tables.Staff(handle="job", name="Job", role="jobs", is_job=True))
        session.flush()
        persons = [person_values(rng, n) for n in numbers]
        session.execute(insert(tables.Person.__table__), persons)
        phones = [phone_values(rng, n) for n in numbers]
        session.execute(insert(tables.ContactPoint.__table__), phones)
        visits = [visit_values(rng, n, k) for n in numbers for k in range(3)]
        session.execute(insert(tables.Visit.__table__), visits)
        ears = [
            {"visit_id": v["id"], "ear": side, "content": SEEN}
            for v in visits
            for side in ("right", "left")
        ]
        session.execute(insert(tables.Findings.__table__), ears)
    for first in range(1, people + 1, 2000):
        with store.write() as session:
            rekey(session, range(first, min(first + 2000, people + 1)))


def due(n: int) -> Due:
    asked = START + timedelta(days=n % 1200)
    return Due(
        ear="right",
        track="wax",
        category="wax_routine",
        rule="wax-routine",
        rule_version=1,
        earliest=asked + timedelta(days=150),
        target=asked + timedelta(days=180),
        latest=asked + timedelta(days=210),
        says="Look again.",
        source="common practice",
        known_by="CP",
        asked_on=asked,
    )


def opens(follow_up: FollowUp) -> Opening:
    return Opening("invitation", follow_up.earliest - timedelta(days=14))


@contextmanager
def timed(what: str, count: int) -> Iterator[Callable[[], float]]:
    began = time.perf_counter()
    taken = [0.0]
    yield lambda: taken[0]
    taken[0] = time.perf_counter() - began
    print(f"{what:<44}{taken[0]:8.2f} s {count / taken[0]:12,.0f} a second")


def median_ms(run: Callable[[], object], times: int = 15) -> float:
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        run()
        taken.append(1000 * (time.perf_counter() - began))
    return statistics.median(taken)


def reading(store: Store, people: int) -> None:
    with timed("floor: the same rows by the driver", people) as floor:
        raw = sqlite3.connect(store.path)
        raw.execute("SELECT * FROM person").fetchall()
        raw.execute("SELECT * FROM visit").fetchall()
        raw.execute("SELECT * FROM findings").fetchall()
        raw.close()
    with timed("every case", people) as own, store.read() as session:
        for _ in all_cases(session):
            pass
    print(f"    ratio {own() / floor():.1f}")


def storing(store: Store, people: int) -> None:
    who = Who(1, NOW, NOW.date())
    scratch = sqlite3.connect(":memory:")
    scratch.execute("CREATE TABLE t (" + ", ".join(f"c{n}" for n in range(30)) + ")")
    row = ("some words",) * 30
    with timed("floor: executemany of as many rows", people) as floor:
        marks = ",".join("?" * 30)
        scratch.executemany(f"INSERT INTO t VALUES ({marks})", [row] * (people * 7))
    for what in ("store every ledger", "store every ledger again, unchanged"):
        with timed(what, people) as own:
            for first in range(1, people + 1, 1000):
                ids = range(first, min(first + 1000, people + 1))
                ledgers = {n: Ledger(open=(due(n),), closings=(), referrals=()) for n in ids}
                with store.write() as session:
                    store_ledgers(session, ledgers, who, opens)
        print(f"    ratio {own() / floor():.1f}")


def asking(store: Store) -> None:
    with store.read() as session:
        floor = median_ms(lambda: session.execute(tables.Person.__table__.select().limit(1)).all())
        print(f"floor: one row {floor:.2f} ms")
        for words in QUERIES:
            own = median_ms(lambda words=words: find(session, words), 5)
            print(f"find {words!r:<20}{len(find(session, words)):4} found {own:8.1f} ms")
        for label, run in (
            (
                "whose step has come",
                lambda: list(candidates.candidates(session, "come", NOW.date())),
            ),
            ("who is late", lambda: list(candidates.candidates(session, "late", NOW.date()))),
            ("counts at a glance", lambda: candidates.glance(session, NOW.date())),
        ):
            own = median_ms(run, 5)
            print(f"{label:<30}{own:8.1f} ms, {own / floor:.0f} times the floor")


def main() -> None:
    people = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "register.db"
        upgrade(path, at=NOW)
        store = open_store(path)
        with timed("fill the register and its search keys", people):
            fill(store, people)
        reading(store, people)
        storing(store, people)
        asking(store)
        store.close()


if __name__ == "__main__":
    main()
