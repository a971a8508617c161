"""Change the code of a room one step at a time, and see whether its tests notice.

    python tests/tools/mutate.py protocol            150 changes drawn with seed 1
    python tests/tools/mutate.py loop --seed 2 --sample 40 --workers 1
    python tests/tools/mutate.py care --thin 10      on a busy machine
    python tests/tools/mutate.py care --again LEFT   only the changes an earlier run printed

Tests are collected once, and traced where they were not (`tracing.py`). Each change is made in a
process forked from there, in the functions as they stand; only tests that go through the changed
line run, the quickest first. What already ran while the tests were collected, and is not noticed
so, is changed as its module is loaded, in a process of its own.
`equivalent.toml` beside this lists changes that change nothing, each with its reason.
"""

from __future__ import annotations

import argparse
import gc
import importlib
import json
import os
import random
import signal
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import pytest
from _pytest.runner import runtestprotocol
from scipy.stats import binomtest

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
sys.path.insert(0, str(ROOT))

from tests.tools.operators import Change, changed, changes  # noqa: E402
from tests.tools.tracing import Lines, Trace, Tracing, kept_at  # noqa: E402

CORE = ("care", "protocol", "schedule")
"""The rooms that make a plan: the rule cases are tests of all three, traced together."""
LEFT_OUT = ("test_rule_changes", "test_section_changes", "test_an_invented_finding",
            "test_properties", "test_sweep")  # fmt: skip
"""They change the rules or the words by themselves, and say no more of the code than the rest;
or they go over so much that they take far too long for one change."""
LIBRARIES = ("alembic", "dateutil.rrule", "freezegun", "hypothesis", "jinja2", "lifelines",
             "msgspec", "sqlalchemy.orm")  # fmt: skip
QUIET = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", "--no-header", "--tb=no"]
LONGEST = 6.0
"""Seconds of work, as traced, that one change is given: the quickest tests through it."""
MANY = 60
"""Cases of one test from which on only some are taken, where that is asked for."""
NOT_IN_PLACE = 77
Times = dict[str, float]
"""Seconds of each test, by its name."""
Work = Callable[[], int]
Start = tuple[Change, Times, Work]


@dataclass(frozen=True)
class Pace:
    """How much is done at once, of how many cases one is taken, seconds for one change."""

    workers: int
    thin: int
    longest: float


def fork(work: Work) -> int:
    """Start work in a process of its own, silent, and return its number."""
    pid = os.fork()
    if pid:
        return pid
    code = 99
    try:
        os.setsid()
        null = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(null, stream)
        code = work()
    finally:
        os._exit(code)


def in_turn(starts: Iterable[Start], workers: int) -> dict[Change, int]:
    """Run each change in a process, so many at a time; return how each ended."""
    waiting, running, ended = list(starts), dict[int, tuple[Change, float]](), dict[Change, int]()
    while waiting or running:
        while waiting and len(running) < workers:
            change, tests, work = waiting.pop(0)
            running[fork(work)] = change, time.monotonic() + 60 + 20 * sum(tests.values())
        for pid, (change, until) in list(running.items()):
            late = time.monotonic() > until
            if late:
                os.killpg(pid, signal.SIGKILL)
            done, status = os.waitpid(pid, 0 if late else os.WNOHANG)
            if done:
                ended[change] = os.waitstatus_to_exitcode(status)
                del running[pid]
        time.sleep(0.01)
    return ended


def reached(change: Change, lines: Lines) -> bool:
    """Return whether a change is gone through; what runs on loading may matter to any test."""
    there = lines.get(str(ROOT / change.path), [])
    return change.on_loading or any(change.first <= line <= change.last for line in there)


def chosen(change: Change, tests: dict[str, Any], pace: Pace, early: bool = False) -> Times:
    """Return the quickest tests that go through a change, with their times.

    What ran early, while the tests were collected, may matter to any of them: those that go
    through the change come first, then those that go through its module.
    """

    def nearness(name: str) -> tuple[bool, bool, float]:
        lines = tests[name]["lines"]
        far = str(ROOT / change.path) not in lines
        return not reached(change, lines), far, tests[name]["took"]

    found = [n for n, t in tests.items() if early or reached(change, t["lines"])]
    kept: Times = {}
    for name in sorted(found, key=nearness):
        took = tests[name]["took"]
        if not kept or sum(kept.values()) + took < pace.longest:
            kept[name] = took
    return kept


def in_place(change: Change, functions: list[FunctionType]) -> bool:
    """Put changed code into the functions that stand; return whether it could be done."""
    target = str(ROOT / change.path)
    made = compile(changed(Path(target).read_text("utf-8"), change.number), target, "exec")
    codes: dict[tuple[str, int], CodeType | None] = {}
    nested = [made]
    while nested:
        for code in [c for c in nested.pop().co_consts if isinstance(c, CodeType)]:
            key = code.co_qualname, code.co_firstlineno
            codes[key] = None if key in codes else code
            nested.append(code)
    for function in functions:
        old = function.__code__
        new = codes.get((old.co_qualname, old.co_firstlineno))
        if old.co_filename != target or new is None:
            continue
        if new.co_freevars != old.co_freevars:
            return False
        function.__code__ = new
    return True


class Server:
    """Collect once; then trace the tests and try the changes, each in a fork."""

    def __init__(self, drawn: list[Change], pace: Pace, tracing: Tracing, ended: Path) -> None:
        self.drawn, self.pace, self.tracing, self.ended = drawn, pace, tracing, ended

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Take only some cases of a test that has many."""
        groups: dict[str, list[pytest.Item]] = {}
        for item in items:
            groups.setdefault(item.nodeid.partition("[")[0], []).append(item)
        thin = self.pace.thin
        kept = [g if len(g) < MANY else g[::thin] for g in groups.values()]
        items[:] = [item for group in kept for item in group]

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        sys.settrace(None)
        early = self.tracing.trace.taken()
        items = {item.nodeid: item for item in session.items}
        if failed := self._traced(session.items):
            self.ended.write_text(json.dumps([failed, {}, {}, {}]), "utf-8")
            return True
        tests = {
            n: t for n, t in self.tracing.read().items() if n in items and t["lines"] is not None
        }
        functions = [f for f in gc.get_objects() if isinstance(f, FunctionType)
                     and f.__code__.co_filename.startswith(self.tracing.trace.rooms)]  # fmt: skip
        gc.freeze()

        def work(change: Change, times: Times) -> Work:
            def run() -> int:
                if not in_place(change, functions):
                    return NOT_IN_PLACE
                return _ran([items[name] for name in times])

            return run

        ready = [(c, chosen(c, tests, self.pace)) for c in self.drawn if not c.on_loading]
        codes = in_turn([(c, t, work(c, t)) for c, t in ready if t], self.pace.workers)
        ended = {c.number_and_path: code for c, code in codes.items()}
        self.ended.write_text(json.dumps(["", tests, ended, early]), "utf-8")
        return True

    def _traced(self, items: list[pytest.Item]) -> str:
        """Trace in a process of its own; return what is wrong with the tests."""

        def trace() -> int:
            self.ended.write_text(self.tracing.bring_up_to_date(items), "utf-8")
            return 0

        if os.waitpid(fork(trace), 0)[1]:
            return "the tests, which could not be traced"
        return self.ended.read_text("utf-8")


def _ran(items: list[pytest.Item]) -> int:
    for item, after in zip(items, [*items[1:], None], strict=True):
        if any(report.failed for report in runtestprotocol(item, nextitem=after, log=False)):
            return 1
    return 0


class Only:
    """Run some tests only, the quickest first."""

    def __init__(self, times: Times) -> None:
        self.times = times

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        kept = [item for item in items if item.nodeid in self.times]
        items[:] = sorted(kept, key=lambda item: self.times[item.nodeid])


def on_loading(change: Change, times: Times) -> Work:
    """Return the work of running tests with a change made as its module is loaded."""
    target, plain = str(ROOT / change.path), SourceFileLoader.get_code

    def get_code(self: SourceFileLoader, fullname: str) -> Any:
        if self.path != target:
            return plain(self, fullname)
        return compile(changed(Path(target).read_text("utf-8"), change.number), target, "exec")

    def run() -> int:
        SourceFileLoader.get_code = get_code  # type: ignore[method-assign]
        files = sorted({name.partition("::")[0] for name in times})
        return int(pytest.main([*QUIET, *files], plugins=[Only(times)]))

    return run


def tried(room: str, drawn: list[Change], pace: Pace) -> dict[Change, int]:
    """Return how the tests ended with each change made; 0: not noticed, or not gone through."""
    names = CORE if room in CORE else (room,)
    rooms = tuple(f"{ROOT}/recall/{name}/" for name in names)
    trace, kept = Trace(rooms), kept_at(ROOT, rooms)
    with tempfile.TemporaryDirectory() as folder:
        ended_at = Path(folder) / "ended.json"

        def serve() -> int:
            tracing = Tracing(trace, kept)
            sys.settrace(trace)
            plugins = [tracing, Server(drawn, pace, tracing, ended_at)]
            return int(pytest.main([*QUIET, *tests_of(names)], plugins=plugins))

        os.waitpid(fork(serve), 0)
        if not ended_at.exists():
            raise SystemExit(f"The tests of {room} could not be collected: run them by pytest.")
        failed, tests, codes, early = json.loads(ended_at.read_text("utf-8"))
    if failed:
        raise SystemExit(f"Tests must pass before the code is changed; this failed: {failed}")
    ended = {c: codes.get(c.number_and_path, NOT_IN_PLACE) for c in drawn}
    slowly = [c for c, code in ended.items()
              if code == NOT_IN_PLACE or (code == 0 and reached(c, early))]  # fmt: skip
    times = {c: chosen(c, tests, pace, reached(c, early)) for c in slowly}
    slow = in_turn([(c, t, on_loading(c, t)) for c, t in times.items() if t], pace.workers)
    return {**ended, **dict.fromkeys(times, 0), **slow}


def drawn_from(room: Path, seed: int, size: int) -> tuple[list[Change], int]:
    """Return the changes drawn that change something, and how many drawn change nothing."""
    every: list[Change] = []
    for path in sorted(room.rglob("*.py")):
        every += changes(path, path.relative_to(ROOT).as_posix())
    listed = tomllib.loads((HERE / "equivalent.toml").read_text("utf-8"))["equivalent"]
    equal = {name for row in listed for name in row["changes"]}
    sample = random.Random(seed).sample(every, min(size, len(every)))
    drawn = [change for change in sample if change.name not in equal]
    return drawn, len(sample) - len(drawn)


def tests_of(rooms: tuple[str, ...]) -> list[str]:
    """Return the files of the tests of some rooms."""
    paths = [p for room in rooms for p in sorted(Path("tests", room).rglob("test_*.py"))]
    return [str(path) for path in paths if path.stem not in LEFT_OUT]


def _asked() -> argparse.Namespace:
    asked = argparse.ArgumentParser(description="See the top of this file.")
    asked.add_argument("room")
    asked.add_argument("--sample", type=int, default=150)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--thin", type=int, default=1, help="take one case in so many of a test")
    asked.add_argument("--again", type=Path, help="only the changes named in what a run printed")
    asked.add_argument("--longest", type=float, default=LONGEST, help="seconds for one change")
    return asked.parse_args()


def main() -> None:
    """Draw, change, run, and print what survived and the rate."""
    given = _asked()
    again = given.again.read_text("utf-8") if given.again else None
    os.chdir(ROOT)
    for name in LIBRARIES:
        importlib.import_module(name)
    start = time.monotonic()
    drawn, equal = drawn_from(ROOT / "recall" / given.room, given.seed, given.sample)
    if again is not None:
        drawn = [change for change in drawn if f"  {change.name}\n" in again]
    ended = tried(given.room, drawn, Pace(given.workers, given.thin, given.longest))
    left = sorted((c for c, code in ended.items() if code == 0), key=lambda c: (c.path, c.number))
    for change in left:
        print(f"line {change.first}  {change.name}")
    noticed = len(drawn) - len(left)
    low, high = binomtest(noticed, len(drawn)).proportion_ci(method="wilson")
    print(
        f"{given.room}: {noticed} of {len(drawn)} noticed, {noticed / len(drawn):.0%} "
        f"(95% interval {low:.0%} to {high:.0%}); {equal} more drawn change nothing; "
        f"{time.monotonic() - start:.0f} s"
    )


if __name__ == "__main__":
    main()
