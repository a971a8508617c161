"""One day's work at practices of growing size; run by hand, prints ratios to a floor in the run.

    python tests/benchmarks/day.py [PEOPLE ...]

As many people are due on the day whatever the size, so that what grows with the register alone
shows. Floors: for the queue and a contact, one row looked up by its number; for the letters, the
page library alone; for the night, every row of the tables it reads, by the database driver.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import msgspec
from sqlalchemy import insert, select

sys.path.insert(0, str(Path(__file__).parents[2]))

from recall import config
from recall.care.ear import Ear
from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.replanning import mark_everybody, replan
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe
from recall.desk.oversight.counts import counts
from recall.desk.plans.passing_time import bring_up_to_date
from recall.desk.post.batches import prepare
from recall.desk.post.printing import print_batch
from recall.desk.worklists import lists
from recall.desk.worklists.day_list import Part
from recall.desk.worklists.queue_lines import queue_lines
from recall.letters import sample
from recall.letters.compose import compose
from recall.letters.pages import make_pdf
from recall.letters.wording import Wording
from recall.records import tables
from recall.records.database.store import open_store
from recall.records.database.upgrade import upgrade
from recall.records.tables import Staff
from tests.conftest import NOW
from tests.desk.practice import FLUID, desk_at

DAY = date(2026, 9, 1)
DUE, CONTACTS = 600, 200
READ = ("person", "visit", "findings", "due", "due_event", "follow_up", "follow_up_due")
READ += ("contact_point", "adult_for", "referral", "contact", "letter", "booking", "booking_event")
WAX = Ear(wax_found="occluding", wax_left="none", clearance="cleared", drum_seen="full")


def fill(path: Path, people: int) -> Desk:
    """Everybody has a visit; of `DUE` children it was some weeks ago, of the others just now."""
    upgrade(path, at=NOW)
    store = open_store(path)
    made = {"recorded_at": NOW, "by_id": 1}
    numbers = range(1, people + 1)
    with store.write() as session:
        session.add(Staff(handle="rob", name="Rob Tanner", role="practitioner"))
        session.flush()
        for table, rows in _tables(numbers):
            session.execute(insert(table.__table__), [{**row, **made} for row in rows])
        ears = [
            {"visit_id": n, "ear": side, "content": msgspec.json.encode(ear).decode()}
            for n in numbers
            for side, ear in (("right", FLUID if n <= DUE else WAX), ("left", WAX))
        ]
        session.execute(insert(tables.Findings.__table__), ears)
    desk = desk_at(store, DAY)
    files = config.Files(database=path, letters=path.parent / "letters")
    return replace(desk, config=msgspec.structs.replace(desk.config, files=files))


def _tables(numbers: range) -> list[tuple[type, list[dict[str, object]]]]:
    seen = {n: DAY - timedelta(days=(28 + n % 14) if n <= DUE else n % 10) for n in numbers}
    born = {n: date(2019, 1, 1) if n <= DUE else date(1950, 1, 1) for n in numbers}
    people = [
        {"id": n, "ref": f"W{n}", "given_names": "Wren", "family_name": f"Number{n}"}
        | {"born": born[n], "on": seen[n]}
        for n in numbers
    ]
    adults = [
        {"id": n, "person_id": n, "name": f"Parent {n}", "role": "responsible_adult", "on": DAY}
        for n in numbers
        if n <= DUE
    ]
    visits = [
        {"id": n, "person_id": n, "on": seen[n], "source": "entered"}
        | {"confirmed_at": NOW, "confirmed_by_id": 1}
        for n in numbers
    ]
    numbers_held = [
        {"person_id": n, "adult_id": n if n <= DUE else None, "kind": kind, "raw": value}
        | {"value": value, "postcode": "WR9 9ZX", "on": DAY}
        for n in numbers
        for kind, value in (("address", f"{n} Teasel Row\nWrenfield"), ("phone", "+441632960321"))
    ]
    return [
        (tables.Person, people),
        (tables.AdultFor, adults),
        (tables.Visit, visits),
        (tables.ContactPoint, numbers_held),
    ]


def timed(run: Callable[[], object], times: int = 1) -> float:
    """Milliseconds for one, as the middle of some."""
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        run()
        taken.append(1000 * (time.perf_counter() - began))
    return sorted(taken)[len(taken) // 2]


def say(what: str, took: float, floor: float, of: str) -> None:
    print(f"  {what:<34}{took:10.1f} ms {took / floor:8.1f} times {of}", flush=True)


def day(people: int, folder: Path) -> None:
    desk = fill(folder / "register.db", people)
    print(f"{people} people", flush=True)
    mark_everybody(desk)
    took = timed(lambda: replan(desk))
    print(f"  {'planned':<34}{took:10.1f} ms, {1000 * people / took:.0f} people a second")
    person = tables.Person.__table__

    def one_row() -> None:
        with desk.store.read() as session:
            session.execute(select(person).where(person.c.id == people // 2)).one()

    row = timed(one_row, 50)
    say(
        "queue, first 50",
        timed(lambda: queue_lines(desk, Part(50), letters=True), 5),
        row,
        "one row",
    )
    say("queue without the letters", timed(lambda: queue_lines(desk, Part(50)), 5), row, "one row")
    say("counts at the head", timed(lambda: counts(desk), 5), row, "one row")
    work = [line for line in queue_lines(desk, Part(CONTACTS), letters=True) if line.follow_up_id]
    took = timed(lambda: [_call(desk, line) for line in work]) / max(1, len(work))
    say(f"one of {len(work)} contacts", took, row, "one row")
    _letters(desk, folder)
    _night(desk)
    desk.close()


def _call(desk: Desk, line: lists.Line) -> None:
    contacting.log_contact(desk, line.follow_up_id or 0, None, Attempt("phone", "no_answer"))


def _letters(desk: Desk, folder: Path) -> None:
    later = replace(desk, clock=type(desk.clock).at(DAY + timedelta(days=7)))
    began = time.perf_counter()
    prepared = prepare(later)
    written = 1000 * (time.perf_counter() - began)
    count = max(1, prepared.written)
    one = sample.letter("invitation_child")
    alike = [msgspec.structs.replace(one, number=f"L-{n}") for n in range(count)]
    wording = Wording()
    composed = [compose(each, wording) for each in alike]
    floor = timed(lambda: make_pdf(composed, folder / "floor.pdf")) / count
    say(f"one of {count} letters written", written / count, floor, "its page alone")
    if prepared.batch_id is not None:
        number = prepared.batch_id
        took = timed(lambda: print_batch(later, number)) / count
        say("one of them printed", took, floor, "its page alone")


def _night(desk: Desk) -> None:
    def scan() -> None:
        raw = sqlite3.connect(desk.store.path)
        for table in READ:
            raw.execute(f"SELECT * FROM {table}").fetchall()
        raw.close()

    floor = timed(scan, 3)
    say("lists brought up to date", timed(lambda: bring_up_to_date(desk)), floor, "a bare scan")
    say("failsafe", timed(lambda: failsafe.run(desk)), floor, "a bare scan")


def main() -> None:
    for people in [int(word) for word in sys.argv[1:]] or [1_000, 10_000]:
        with tempfile.TemporaryDirectory() as folder:
            day(people, Path(folder))


if __name__ == "__main__":
    main()
