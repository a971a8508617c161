"""Whether a large file of visits keeps any other desk from writing. Run by hand.

    python tests/benchmarks/import_size.py [ROWS]

While the file lands and its people are planned, another process writes a small act every fifth
of a second, as a receptionist would: a line of the history. Its waits are told by phase, and
whatever was refused is counted. Half way through, Ctrl+C stops the import; the same file goes on
with the run, and every row must stand in the register at the end.
"""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from itertools import pairwise
from pathlib import Path
from typing import TypeVar

from importing import TODAY, reading_benchmark, register

from recall.clock import Clock
from recall.desk.core.replanning import replan
from recall.desk.core.session import Desk, open_desk
from recall.desk.imports.importing import import_file
from recall.errors import RecallError
from recall.records.database.store import open_store
from recall.records.journal import history

EVERY = 0.2
Made = TypeVar("Made")
Act = tuple[float, float, bool]
"""When an act began, how long it took, and whether it was refused."""


def act_until_stopped(database: Path, told: Path) -> None:
    """Write a small act again and again, and write down how long each took."""
    store, clock = open_store(database), Clock()
    with told.open("w", encoding="utf-8", buffering=1) as out:
        while True:
            began, refused = time.time(), False
            try:
                with store.write() as session:
                    history.append(session, 1, clock.now(), "noted", "practice", 1)
            except RecallError:
                refused = True
            out.write(f"{began} {time.time() - began} {int(refused)}\n")
            time.sleep(EVERY)


@contextmanager
def other_desk(database: Path, told: Path) -> Iterator[None]:
    """Let another process act meanwhile."""
    process = subprocess.Popen([sys.executable, __file__, "--act", str(database), str(told)])
    try:
        while not (told.exists() and told.stat().st_size):
            time.sleep(EVERY)
        yield
    finally:
        process.terminate()
        process.wait()


def acts(told: Path) -> list[Act]:
    """Return what the other desk wrote down; a line cut off at the end is left out."""
    lines = [line.split() for line in told.read_text("utf-8").splitlines()]
    return [(float(a), float(b), c == "1") for a, b, c in (x for x in lines if len(x) == 3)]


def stopped_half_way(desk: Desk, path: Path) -> bool:
    """Take the file in and press Ctrl+C once half of it has landed; return whether it stopped."""
    calls: list[int] = []

    def progress(done: int, of: int) -> None:
        calls.append(done)
        if is_landing(calls) and done * 2 >= of:
            os.kill(os.getpid(), signal.SIGINT)

    try:
        import_file(desk, path, "visits", progress)
    except KeyboardInterrupt:
        return True
    return False


def is_landing(calls: list[int]) -> bool:
    """Return whether counting began anew twice: the file was read, rehearsed, and lands now."""
    return sum(b < a for a, b in pairwise(calls)) >= 2


def visits_in(database: Path) -> int:
    """Return how many visits stand in the register."""
    with closing(sqlite3.connect(database)) as db:
        return int(db.execute("SELECT count(*) FROM visit WHERE void_at IS NULL").fetchone()[0])


def timed(name: str, does: Callable[[], Made], told: Path) -> Made:
    """Do something, and print how long the other desk waited beside it."""
    began = time.time()
    made = does()
    ended = time.time()
    mine = [act for act in acts(told) if began <= act[0] < ended]
    waits = sorted(took for _at, took, _refused in mine) or [0.0]
    refused = sum(was for _at, _took, was in mine)
    print(
        f"{name}: {ended - began:.0f} s; {len(mine)} acts beside it, {refused} refused; "
        f"longest {waits[-1]:.2f} s, 95 in 100 within {waits[int(len(waits) * 0.95)]:.2f} s",
        flush=True,
    )
    return made


def main() -> None:
    """Print what came out, and end with 1 where a row was lost or an act refused."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 8_000
    reading = reading_benchmark()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        config, told = register(folder / "ours"), folder / "acts"
        people, visits = folder / "people.csv", folder / "visits.csv"
        reading.write_people(people, (rows + 3) // 4)
        reading.write_visits(visits, rows)
        desk, database = open_desk(config, by="clara", clock=Clock.at(TODAY)), config.files.database
        with other_desk(database, told):
            timed("people", lambda: import_file(desk, people, "people"), told)
            stopped = timed("visits to Ctrl+C", lambda: stopped_half_way(desk, visits), told)
            half = visits_in(database)
            done = timed("visits, gone on", lambda: import_file(desk, visits, "visits"), told)
            landed = visits_in(database)
            timed("planning", lambda: replan(desk), told)
        desk.close()
        refused = any(was for _at, _took, was in acts(told))
    sent_back = done.rejected
    print(
        f"stopped: {stopped}, with {half:,} of {rows:,} rows; at the end {landed:,}, and "
        f"{sent_back:,} sent back"
    )
    sys.exit(landed + sent_back != rows or refused)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--act"]:
        act_until_stopped(Path(sys.argv[2]), Path(sys.argv[3]))
    else:
        main()
