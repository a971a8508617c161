"""What a register of many people and sites costs each act; run by hand.

    python tests/benchmarks/growing.py [--server] [PEOPLE ...]

The invented practice, planned and confirmed as always, is copied over and over by the database:
10,000, 100,000 and 1,000,000 people with nearly five visits each, at fifty sites. The first two
copies are the site that is measured, whatever the size, so that what grows with the register
alone shows. Each act is held against its own bare statements, in the same run and state: what is
read is read again by the driver alone, and of what is written the time in the driver is taken.
The history and what files said are not copied: no act reads them but by number.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from datetime import datetime, time, timedelta
from itertools import count
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

import msgspec
from sqlalchemy import Engine, Table, event, func, select, text

sys.path.insert(0, str(Path(__file__).parents[2]))

from recall.clock import Clock
from recall.config import load
from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.core.narrowing import narrowed
from recall.desk.core.replanning import plan_people
from recall.desk.core.session import Desk, open_desk
from recall.desk.oversight.counts import counts
from recall.desk.people import person_card
from recall.desk.practice import demo
from recall.desk.practice.moving import move_to
from recall.desk.worklists import lists
from recall.desk.worklists.day_list import Part
from recall.desk.worklists.queue_lines import queue_lines
from recall.records import tables
from recall.records.database import servers
from recall.sites import Site
from tests import database_server

SITES, AT_ONE = 50, 2
NOT_COPIED = {"history", "history_payload", "person_look", "to_plan", "import_seen", "matter"}
TIMES = 15
Act = tuple[str, Callable[[], object]]


def tables_of_people() -> list[Table]:
    """Return the tables whose rows belong to a person, in an order in which they can be filled."""
    every = [t for t in tables.Base.metadata.sorted_tables if t.name not in NOT_COPIED]
    found = {"person"}
    for _round in every:
        found |= {t.name for t in every if {k.column.table.name for k in t.foreign_keys} & found}
    return [t for t in every if t.name in found]


def copied(table: Table, names: set[str]) -> str:
    """Return the statement that copies a table's first rows; `:n` numbers the copy."""
    values = []
    for column in table.columns:
        of = next((k.column.table.name for k in column.foreign_keys), "")
        told = f'"{column.name}"'
        if column.primary_key and column.name == "id":
            told = f'"id" + :n * :most_{table.name}'
        elif of in names:
            told = f"{told} + :n * :most_{of}"
        values.append(TOLD_APART.get(f"{table.name}.{column.name}", told))
    columns = ", ".join(f'"{c.name}"' for c in table.columns)
    first = "id" if "id" in table.columns else next(c.name for c in table.columns if c.foreign_keys)
    of = table.name if first == "id" else "person"
    return (
        f'INSERT INTO "{table.name}" ({columns}) SELECT {", ".join(values)} '
        f'FROM "{table.name}" WHERE "{first}" <= :most_{of}'
    )


TOLD_APART = {
    "person.ref": "ref || :code",
    "person.family_name": "family_name || :code",
    "person.nhs_number": "NULL",
    "person.site": ":site",
    "visit.ref": "ref || :code",
    "booking.ref": "ref || :code",
    "letter.number": "number || :code",
    "contact_point.value": "CASE WHEN kind = 'phone' THEN value || :digits ELSE value END",
    "person_key.key": "CASE kind WHEN 'phone' THEN :turned || key WHEN 'name' THEN key || :code"
    " WHEN 'ref' THEN key || :code WHEN 'nhs' THEN key || :digits ELSE key END",
}
"""What is another in each copy: names, references and numbers are nobody else's."""


def letters(number: int) -> str:
    """Return a number in four letters, so that a name stays a name."""
    return "".join(chr(ord("a") + number // 26**place % 26) for place in range(3, -1, -1))


def grow(engine: Engine, people: int) -> None:
    """Copy the practice until the register has so many people."""
    every = tables_of_people()
    names = {t.name for t in every}
    with engine.begin() as connection:
        most = {
            f"most_{t.name}": connection.scalar(select(func.max(t.c.id))) or 0
            for t in every
            if "id" in t.columns
        }
        here = connection.scalar(select(func.count()).select_from(tables.Person)) or 1
        connection.execute(text("UPDATE person SET site = 's0'"))
    for number in range(1, -(-people // here)):
        site = 0 if number < AT_ONE else 1 + number % (SITES - 1)
        digits = f"{number:04}"
        said = {"n": number, "code": letters(number), "site": f"s{site}", "digits": digits}
        with engine.begin() as connection:
            for table in every:
                connection.execute(
                    text(copied(table, names)), {**most, **said, "turned": digits[::-1]}
                )
    with engine.begin() as connection:
        if engine.dialect.name != "sqlite":
            for table in (t for t in every if "id" in t.columns):
                connection.execute(
                    text(
                        f"SELECT setval(pg_get_serial_sequence('\"{table.name}\"', 'id'), "
                        f'(SELECT max(id) FROM "{table.name}"))'
                    )
                )
            connection.execute(text("ANALYZE"))  # as a server does by itself


class Driver:
    """What the database was asked, and how long the driver took for it."""

    def __init__(self, engine: Engine) -> None:
        self.asked: list[tuple[str, Any, bool]] = []
        self.seconds, self._began, self.engine = 0.0, 0.0, engine
        event.listen(engine, "before_cursor_execute", self._before)
        event.listen(engine, "after_cursor_execute", self._after)
        ends = engine.dialect.do_commit

        def commit(connection: Any) -> None:
            began = perf_counter()
            ends(connection)
            self.seconds += perf_counter() - began

        engine.dialect.do_commit = commit  # type: ignore[method-assign]

    def _before(self, _connection: Any, _cursor: Any, statement: str, given: Any,
                _context: Any, many: bool) -> None:  # fmt: skip
        self.asked.append((statement, given, many))
        self._began = perf_counter()

    def _after(self, *_given: Any) -> None:
        self.seconds += perf_counter() - self._began

    def forget(self) -> None:
        self.asked.clear()
        self.seconds = 0.0

    def read_again(self) -> float:
        """Return the seconds in which the driver alone reads what was read."""
        with self.engine.connect() as connection:
            cursor = connection.connection.cursor()
            began = perf_counter()
            for statement, given, _many in self.asked:
                if statement.lstrip()[:6].upper() in ("SELECT", "WITH R"):
                    cursor.execute(statement, given)
                    cursor.fetchall()
            return perf_counter() - began


def reading(desk: Desk) -> Iterator[Act]:
    """Give what only reads."""
    ref = f"W1002{letters(1)}"
    yield "the head's counts", lambda: counts(desk)
    yield "queue, first 50", lambda: queue_lines(desk, Part(50), letters=True)
    yield "overdue, first 50", lambda: lists.overdue(desk, Part(50))
    yield "lost, first 50", lambda: lists.lost(desk, Part(50))
    yield "found by name", lambda: person_card.find(desk, f"Coppersmith{letters(1)}")
    yield "found by number", lambda: person_card.find(desk, "07700 9000020001")
    yield "a person's page", lambda: person_card.person(desk, ref)


def writing(desk: Desk) -> Iterator[Act]:
    """Give what writes: each does so for another person each time."""
    lines = [line for line in queue_lines(desk, Part(90)) if line.follow_up_id and line.number]
    asked, booked = iter(lines[:TIMES]), iter(lines[TIMES:])
    days = filter(desk.calendar.is_open, (desk.today + timedelta(days=n) for n in count(7)))
    hours = (datetime.combine(day, time(hour)) for day in days for hour in range(9, 15))

    def call() -> None:
        attempt = Attempt("phone", "no_answer")
        contacting.log_contact(desk, next(asked).follow_up_id or 0, None, attempt)

    def book() -> None:
        booking = Booking(next(hours), why_late="asked for it", channel="phone")
        bookings.book(desk, next(booked).follow_up_id or 0, None, booking)

    people = count(10)

    def plan() -> None:
        with desk.store.write() as session:
            plan_people(desk, session, [next(people)])

    yield "no answer", call
    yield "a booking", book
    yield "a plan made again", plan


def timed(driver: Driver, act: Callable[[], object], *, reads: bool) -> tuple[float, float]:
    """Return the middle seconds of an act, and of its bare statements."""
    took, bare = [], []
    for _time in range(TIMES):
        driver.forget()
        began = perf_counter()
        act()
        took.append(perf_counter() - began)
        bare.append(driver.read_again() if reads else driver.seconds)
    return median(took), median(bare)


def measured(desk: Desk) -> dict[str, tuple[float, float]]:
    driver, found = Driver(desk.store.engine), {}
    for acts, reads in ((reading, True), (writing, False)):
        for name, act in acts(desk):
            found[name] = timed(driver, act, reads=reads)
    return found


@contextmanager
def practice(folder: Path, address: str | None) -> Iterator[Desk]:
    """Give the invented practice's desk, at fifty sites, in a file or on a server."""
    path, on = demo.make(folder, demo.ON, lambda _line: None)
    config = load(path)
    where = {"address": ("1 Row",), "postcode": "WF99 4ZZ", "phone": "01632 960100"}
    sites = tuple(Site(handle=f"s{n}", name=f"Site {n}", **where) for n in range(SITES))
    if address is not None:
        servers.use(address, there := folder / "there.db")
        target = msgspec.structs.replace(config.files, database=there, server=address)
        move_to(config, target, "quill")
        config = msgspec.structs.replace(config, files=target)
    config = msgspec.structs.replace(config, sites=sites)
    desk = open_desk(config, by=demo.WHO, clock=Clock.at(on))
    try:
        yield desk
    finally:
        desk.close()


def main() -> None:
    """Make each register, and say what each act costs, its ratio, and its growth."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("people", nargs="*", type=int, default=[10_000, 100_000, 1_000_000])
    parser.add_argument("--server", action="store_true", help="On a throw-away server.")
    given = parser.parse_args()
    first: dict[str, float] = {}
    with ExitStack() as stack:
        address = stack.enter_context(database_server.served()) if given.server else None
        for people in given.people:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
            at = made_on(address, people) if address else None
            desk = stack.enter_context(practice(folder, at))
            began = perf_counter()
            grow(desk.store.engine, people)
            visits = f"{people:,} people, copied in {perf_counter() - began:.0f} s"
            print(visits, flush=True)
            for name, (took, bare) in measured(narrowed(replace(desk), "s0")).items():
                grown = took / first.setdefault(name, took)
                print(f"  {name:<20}{1000 * took:9.1f} ms {took / bare:6.1f} times its statements"
                      f" {grown:6.2f} times the smallest", flush=True)  # fmt: skip


def made_on(address: str, people: int) -> str:
    """Make an empty database on a server, and return its address."""
    import psycopg

    with psycopg.connect(address.format("postgres").replace("+psycopg", ""), autocommit=True) as it:
        it.execute(f"CREATE DATABASE grown_{people} TEMPLATE template0")
    return address.format(f"grown_{people}")


if __name__ == "__main__":
    main()
