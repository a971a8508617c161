"""How fast files land in the register, as a ratio to a floor in the same run. Run by hand.

    python tests/benchmarks/importing.py [ROWS] [ROUNDS]

Processor time, in turns: each round makes registers of its own, and the middle one is told.
The floor parses and validates the same file with the same libraries, makes the rows that it tells
(see `floor_rows.py`: they are compared with the register's), and writes them, nothing else, with
one bare executemany for each table, every column bound. A sharper floor writes what all rows have
into the statement, as ours does. Ours also looks up who is known, keeps what the file said,
search keys, and the chained history. The last ratio is to a floor that writes those rows too.
Planning is a phase of its own and is timed by itself: its floor computes every plan as far as it
is stored, dues, referrals and the appointments that they share, and inserts the same rows.
"""

from __future__ import annotations

import importlib.util
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from statistics import median
from types import ModuleType

import floor_rows
from floor_rows import Rows
from sqlalchemy import select

from recall.clock import Clock
from recall.config import Calendar, Config, Files, Practice
from recall.desk.core.replanning import replan
from recall.desk.core.rights import Role
from recall.desk.core.session import Desk, StaffRow, open_desk
from recall.desk.imports.importing import import_file
from recall.desk.practice.setting_up import set_up
from recall.desk.practice.staff import add_staff
from recall.records import tables
from recall.records.database.store import open_store
from recall.records.facts.cases import cases_of
from recall.schedule.combine import group
from recall.schedule.fold import fold

TODAY = date(2026, 11, 25)


def reading_benchmark() -> ModuleType:
    """Return the script beside this one, for its files and its floor."""
    path = Path(__file__).with_name("reading.py")
    spec = importlib.util.spec_from_file_location("reading_benchmark", path)
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def practice(folder: Path) -> Config:
    """Return the settings of an invented practice in a folder."""
    files = Files(
        database=folder / "recall.db",
        letters=folder / "letters",
        backups=folder / "backups",
        reports=folder / "reports",
    )
    who = Practice(name="Wrenfield", address=("1 Row",), postcode="WF99 4ZZ", phone="01632 960100")
    return Config(practice=who, files=files, calendar=Calendar())


TABLES = {
    "people": ("person", "adult_for", "contact_point", "person_risk"),
    "visits": ("visit", "findings"),
    "planning": ("due", "due_event", "follow_up", "follow_up_due", "referral", "referral_event"),
}
BESIDE = {
    "people": ("person_key", "import_seen", "history", "history_payload"),
    "visits": ("import_seen", "history", "history_payload"),
    "planning": ("history", "history_payload"),
}
"""What is written beside: search keys, what the file said, the history."""


def floor(path: Path, kind: str, database: Path, bare: Path, *, bound: bool = True) -> float:
    """Return the seconds to parse, validate and insert the same rows into the same tables.

    Every column is bound, or what all rows have stands in the statement.
    """
    ours, people = landed(database, TABLES[kind]), born(database)
    rest = floor_rows.like(made(path, kind, people), ours)
    began = time.process_time()
    rows = made(path, kind, people)
    if bound:
        insert({name: every_column(rows[name], rest[name]) for name in rows}, bare)
    else:
        insert(rows, bare, rest)
    return time.process_time() - began


def every_column(rows: Rows, rest: Rows) -> Rows:
    """Return rows with the columns in them that have one value in all."""
    (columns, values), (others, shared) = rows, rest
    return [*columns, *others], [(*row, *shared[0]) for row in values]


def made(path: Path, kind: str, people: dict[str, tuple[int, date]]) -> dict[str, Rows]:
    """Return the rows that a file tells."""
    return floor_rows.people(path) if kind == "people" else floor_rows.visits(path, people)


def born(database: Path) -> dict[str, tuple[int, date]]:
    """Return everybody's number and birth date, by reference."""
    with sqlite3.connect(database) as db:
        rows = db.execute("SELECT ref, id, born FROM person").fetchall()
    db.close()
    return {ref: (number, date.fromisoformat(day)) for ref, number, day in rows}


def insert(rows: dict[str, Rows], bare: Path, rest: dict[str, Rows] | None = None) -> None:
    """Insert rows into the same tables of another register, with one executemany for each.

    `rest` holds the columns that have one value in all rows.
    """
    with sqlite3.connect(bare) as db:
        for pragma in ("journal_mode=WAL", "foreign_keys=OFF", "synchronous=NORMAL"):
            db.execute(f"PRAGMA {pragma}")
        for name, (columns, values) in rows.items():
            others, shared = rest[name] if rest else ([], [()])
            quoted = [db.execute("SELECT quote(?)", (each,)).fetchone()[0] for each in shared[0]]
            marks = ", ".join([*["?"] * len(columns), *quoted])
            names = ", ".join(f'"{c}"' for c in (*columns, *others))
            db.executemany(f"INSERT INTO {name} ({names}) VALUES ({marks})", values)
    db.close()


def planning_floor(desk: Desk, database: Path, bare: Path) -> float:
    """Return the seconds to compute everybody's plan and insert the same rows of the ledger."""
    with desk.store.read() as session:
        cases = cases_of(session, list(session.scalars(select(tables.Person.id))))
    rows = landed(database, TABLES["planning"])
    began = time.process_time()
    for case in cases.values():
        ledger = fold(case, desk.protocol, date(9999, 12, 31))
        group(ledger.open, desk.calendar.is_open)
    insert(rows, bare)
    return time.process_time() - began


def landed(database: Path, names: Sequence[str]) -> dict[str, Rows]:
    """Return the rows of some tables, as the register holds them."""
    found: dict[str, Rows] = {}
    with sqlite3.connect(database) as db:
        for name in names:
            cursor = db.execute(f"SELECT * FROM {name}")
            found[name] = ([c[0] for c in cursor.description], cursor.fetchall())
    db.close()
    return found


class Beside:
    """Writes what is written beside, each row once; both registers begin alike."""

    def __init__(self, database: Path) -> None:
        every = {name for names in BESIDE.values() for name in names}
        rows = landed(database, sorted(every))
        self._done = {name: len(values) for name, (_columns, values) in rows.items()}

    def seconds(self, database: Path, kind: str, bare: Path) -> float:
        """Return the seconds to insert what has come into the tables beside since last."""
        rows = landed(database, BESIDE[kind])
        new = {name: (columns, values[self._done[name] :])
               for name, (columns, values) in rows.items()}  # fmt: skip
        self._done |= {name: len(values) for name, (_columns, values) in rows.items()}
        began = time.process_time()
        insert(new, bare)
        return time.process_time() - began


def register(folder: Path) -> Config:
    """Make an empty register with one member of staff."""
    config = practice(folder)
    set_up(config)
    store = open_store(config.files.database)
    add_staff(store, Clock(), StaffRow(0, "clara", "Clara Voss", Role.CLINICAL_LEAD), by=None)
    store.close()
    return config


@dataclass(frozen=True)
class Took:
    """The seconds of one phase of one round, for so many rows or people."""

    rows: int
    ours: float
    low: float
    sharper: float
    beside: float
    again: float = 0.0


def one_round(folder: Path, rows: int) -> dict[str, Took]:
    """Return what importing people and visits and planning them took, each with its floors."""
    reading, took = reading_benchmark(), dict[str, Took]()
    config, bare = register(folder / "ours"), register(folder / "bare").files.database
    other = register(folder / "other").files.database
    database = config.files.database
    desk, beside = open_desk(config, by="clara", clock=Clock.at(TODAY)), Beside(database)
    for kind, write in (("people", reading.write_people), ("visits", reading.write_visits)):
        path = folder / f"{kind}.csv"
        write(path, rows)
        times = []
        for _again in range(2):
            reading.forget()
            began = time.process_time()
            import_file(desk, path, kind)  # type: ignore[arg-type]
            times.append(time.process_time() - began)
        low = floor(path, kind, database, bare)
        sharper = floor(path, kind, database, other, bound=False)
        all_written = beside.seconds(database, kind, bare)
        took[kind] = Took(rows, times[0], low, sharper, all_written, times[1])
    began = time.process_time()
    done = replan(desk)
    ours = time.process_time() - began
    low = planning_floor(desk, database, bare)
    all_written = beside.seconds(database, "planning", bare)
    took["planning"] = Took(done.people, ours, low, low, all_written)
    desk.close()
    return took


def _ours(took: Took) -> float:
    return took.ours


def _low(took: Took) -> float:
    return took.low


def told(kind: str, rounds: Sequence[Took]) -> str:
    """Return in words what the middle round came to, with the lowest and the highest."""

    def ratio(of: Callable[[Took], float]) -> str:
        found = sorted(map(of, rounds))
        return f"{median(found):.2f} ({found[0]:.2f} to {found[-1]:.2f})"

    rate, floor_rate = (median(t.rows / of(t) for t in rounds) for of in (_ours, _low))
    again = f"; the same file again {ratio(lambda t: t.again / t.low)}" if rounds[0].again else ""
    return (
        f"{kind}: {rate:,.0f} a second; floor {floor_rate:,.0f}; "
        f"ratio {ratio(lambda t: t.ours / t.low)}, "
        f"to the sharper floor {ratio(lambda t: t.ours / t.sharper)}, "
        f"to all that is written {ratio(lambda t: t.ours / (t.low + t.beside))}{again}"
    )


def main() -> None:
    """Print rows a second and the ratios to the floors."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 6_000
    rounds = []
    for _round in range(int(sys.argv[2]) if len(sys.argv) > 2 else 3):
        with tempfile.TemporaryDirectory() as name:
            rounds.append(one_round(Path(name), rows))
    for kind in TABLES:
        print(told(kind, [took[kind] for took in rounds]))


if __name__ == "__main__":
    main()
