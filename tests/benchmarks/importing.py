"""How fast files land in the register, as a ratio to a floor in the same run. Run by hand.

    python tests/benchmarks/importing.py [ROWS]

The floor parses and validates the same file with the same libraries (see `reading.py`), and
writes the same rows, nothing else, with one bare executemany for each table. Ours also looks
up who is known, keeps what the file said, search keys, and the chained history. Planning is
a phase of its own and is timed by itself.
"""

from __future__ import annotations

import importlib.util
import sqlite3
import sys
import tempfile
import time
from datetime import date
from pathlib import Path
from types import ModuleType

from recall.clock import Clock
from recall.config import Calendar, Config, Files, Practice
from recall.desk.core.replanning import replan
from recall.desk.core.rights import Role
from recall.desk.core.session import StaffRow, open_desk
from recall.desk.imports.importing import import_file
from recall.desk.practice.setting_up import set_up
from recall.desk.practice.staff import add_staff
from recall.records.database.store import open_store

TODAY = date(2026, 11, 25)
Rows = tuple[list[str], list[tuple[object, ...]]]
"""Columns and values of a table."""


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
}


def floor(path: Path, kind: str, reading: ModuleType, rows: dict[str, Rows], bare: Path) -> float:
    """Return the seconds to parse, validate and insert the same rows into the same tables."""
    reading.forget()
    began = time.process_time()
    (reading.floor_people if kind == "people" else reading.floor_visits)(path)
    with sqlite3.connect(bare) as db:
        for pragma in ("journal_mode=WAL", "foreign_keys=OFF", "synchronous=NORMAL"):
            db.execute(f"PRAGMA {pragma}")
        for name, (columns, values) in rows.items():
            marks = ", ".join("?" * len(columns))
            names = ", ".join(f'"{c}"' for c in columns)
            db.executemany(f"INSERT INTO {name} ({names}) VALUES ({marks})", values)
    db.close()
    return time.process_time() - began


def landed(database: Path, kind: str) -> dict[str, Rows]:
    """Return the rows that a file made, as the register holds them."""
    found: dict[str, Rows] = {}
    with sqlite3.connect(database) as db:
        for name in TABLES[kind]:
            cursor = db.execute(f"SELECT * FROM {name}")
            found[name] = ([c[0] for c in cursor.description], cursor.fetchall())
    db.close()
    return found


def register(folder: Path) -> Config:
    """Make an empty register with one member of staff."""
    config = practice(folder)
    set_up(config)
    store = open_store(config.files.database)
    add_staff(store, Clock(), StaffRow(0, "clara", "Clara Voss", Role.CLINICAL_LEAD), by=None)
    store.close()
    return config


def main() -> None:
    """Print rows a second and the ratio to the floor."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    reading = reading_benchmark()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        config, bare = register(folder / "ours"), register(folder / "bare").files.database
        desk = open_desk(config, by="clara", clock=Clock.at(TODAY))
        for kind, write in (("people", reading.write_people), ("visits", reading.write_visits)):
            path = folder / f"{kind}.csv"
            write(path, rows)
            reading.forget()
            began = time.process_time()
            found = import_file(desk, path, kind)  # type: ignore[arg-type]
            taken = time.process_time() - began
            reading.forget()
            began = time.process_time()
            import_file(desk, path, kind)  # type: ignore[arg-type]
            again = time.process_time() - began
            low = floor(path, kind, reading, landed(config.files.database, kind), bare)
            print(
                f"{kind}: {found.added:,} added, {rows / taken:,.0f} rows/s; "
                f"floor {rows / low:,.0f} rows/s; ratio {taken / low:.2f}; "
                f"the same file again {again / low:.2f}"
            )
        began = time.process_time()
        done = replan(desk)
        taken = time.process_time() - began
        print(f"planning: {done.people:,} people in {taken:.1f} s, {done.people / taken:,.0f}/s")
        desk.close()


if __name__ == "__main__":
    main()
