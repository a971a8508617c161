"""Change the code of a room one step at a time, and see whether its tests notice.

    python tests/tools/mutate.py protocol            150 changes drawn with seed 1
    python tests/tools/mutate.py loop --seed 2 --sample 40 --workers 1
    python tests/tools/mutate.py care --thin 10      on a busy machine

Tests are collected once. Each change is made in a process forked from there, in the functions
as they stand; only tests that go through the changed line run, the quickest first. What already
ran while the tests were collected is changed as its module is loaded, in a process of its own.
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

CORE = ("tests/care", "tests/protocol", "tests/schedule")
TESTS = {"care": CORE, "protocol": CORE, "schedule": CORE}
"""The rule cases are tests of the three rooms that make a plan; other rooms have their own."""
LEFT_OUT = ("test_rule_changes", "test_section_changes", "test_an_invented_finding")
"""They change the rules or the words by themselves: they say no more of the code than the rest."""
LIBRARIES = ("alembic", "dateutil.rrule", "freezegun", "hypothesis", "jinja2", "lifelines",
             "msgspec", "sqlalchemy.orm")  # fmt: skip
QUIET = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", "--no-header", "--tb=no"]
LONGEST = 6.0
"""Seconds of work, as traced, that one change is given: the quickest tests through it."""
SLOW = 2.0
"""Seconds of work, as traced, after which a test is broken off and left out."""
MANY = 60
"""Cases of one test from which on only some are taken, where that is asked for."""
NOT_IN_PLACE = 77
Times = dict[str, float]
"""Seconds of each test, by its name."""
Work = Callable[[], int]
Start = tuple[Change, Times, Work]


class TooSlow(BaseException):
    """A test took too long to be of use here."""


def _break_off(*_: object) -> None:
    raise TooSlow


class Trace:
    """The lines of a room that are gone through."""

    def __init__(self, room: str) -> None:
        self.room, self.lines = room, set[tuple[str, int]]()

    def _line(self, frame: Any, event: str, _: Any) -> Any:
        self.lines.add((frame.f_code.co_filename, frame.f_lineno))
        return self._line

    def __call__(self, frame: Any, event: str, _: Any) -> Any:
        inside = frame.f_code.co_filename.startswith(self.room)
        return self._line(frame, event, None) if inside else None

    def taken(self) -> dict[str, list[int]]:
        """Return the lines so far by file, and begin anew."""
        found: dict[str, list[int]] = {}
        for file, line in self.lines:
            found.setdefault(file, []).append(line)
        self.lines = set()
        return found


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


def reached(change: Change, lines: dict[str, list[int]]) -> bool:
    """Return whether a change is gone through; what runs on loading may matter to any test."""
    there = lines.get(str(ROOT / change.path), [])
    return change.on_loading or any(change.first <= line <= change.last for line in there)


def chosen(change: Change, tests: dict[str, Any], early: bool = False) -> Times:
    """Return the quickest tests that go through a change, with their times.

    What ran early, while the tests were collected, may matter to any of them.
    """
    found = {n: k["took"] for n, k in tests.items() if early or reached(change, k["lines"])}
    kept: Times = {}
    for name in sorted(found, key=found.__getitem__):
        if not kept or sum(kept.values()) + found[name] < LONGEST:
            kept[name] = found[name]
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


@dataclass(frozen=True)
class Pace:
    """How much is done at once, and of how many cases one is taken."""

    workers: int
    thin: int


class Server:
    """Collect once; then trace the tests and try the changes, each in a fork."""

    def __init__(self, drawn: list[Change], pace: Pace, trace: Trace, kept: Path) -> None:
        self.drawn, self.pace, self.trace, self.kept = drawn, pace, trace, kept
        self.left_out: set[str] = set()

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Take only some cases of a test that has many."""
        groups: dict[str, list[pytest.Item]] = {}
        for item in items:
            groups.setdefault(item.nodeid.partition("[")[0], []).append(item)
        thin = self.pace.thin
        kept = [g if len(g) < MANY else g[::thin] for g in groups.values()]
        items[:] = [item for group in kept for item in group]

    def pytest_runtest_makereport(self, item: pytest.Item, call: pytest.CallInfo[None]) -> None:
        """Note what was broken off, or stands on what was."""
        if call.excinfo is not None and call.excinfo.errisinstance(TooSlow):
            self.left_out.add(item.nodeid)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        sys.settrace(None)
        on_the_way = self.trace.taken()
        if os.waitpid(fork(lambda: self._traced(session.items)), 0)[1]:
            raise SystemExit("The tests of the room must pass before its code is changed.")
        tests = json.loads(self.kept.read_text("utf-8"))
        everything = gc.get_objects()
        here = self.trace.room
        functions = [f for f in everything if isinstance(f, FunctionType)
                     and f.__code__.co_filename.startswith(here)]  # fmt: skip
        items = {item.nodeid: item for item in session.items}
        gc.freeze()

        def work(change: Change, times: Times) -> Work:
            def run() -> int:
                if not in_place(change, functions):
                    return NOT_IN_PLACE
                return _ran([items[name] for name in times])

            return run

        ready = [(c, chosen(c, tests)) for c in self.drawn
                 if not c.on_loading and not reached(c, on_the_way)]  # fmt: skip
        ended = in_turn([(c, t, work(c, t)) for c, t in ready if t], self.pace.workers)
        codes = {c.number_and_path: code for c, code in ended.items()}
        self.kept.write_text(json.dumps([tests, codes, on_the_way]), "utf-8")
        return True

    def _traced(self, items: list[pytest.Item]) -> int:
        tests, failed = {}, False
        signal.signal(signal.SIGPROF, _break_off)
        for item, after in zip(items, [*items[1:], None], strict=True):
            start = time.process_time()
            signal.setitimer(signal.ITIMER_PROF, SLOW)
            sys.settrace(self.trace)
            reports = runtestprotocol(item, nextitem=after, log=False)
            sys.settrace(None)
            signal.setitimer(signal.ITIMER_PROF, 0)
            took = time.process_time() - start
            lines = self.trace.taken()
            if item.nodeid in self.left_out:
                continue
            failed = failed or any(report.failed for report in reports)
            tests[item.nodeid] = {"took": took, "lines": lines}
        self.kept.write_text(json.dumps(tests), "utf-8")
        return int(failed)


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


def tried(room: Path, files: list[str], drawn: list[Change], pace: Pace) -> dict[Change, int]:
    """Return how the tests ended with each change made; 0: not noticed, or not gone through."""
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(folder) / "kept.json"

        def serve() -> int:
            trace = Trace(str(room))
            sys.settrace(trace)
            return int(pytest.main([*QUIET, *files], plugins=[Server(drawn, pace, trace, kept)]))

        os.waitpid(fork(serve), 0)
        tests, codes, early = json.loads(kept.read_text("utf-8"))
    ended = {c: codes.get(c.number_and_path, NOT_IN_PLACE) for c in drawn}
    slowly = [c for c, code in ended.items() if code == NOT_IN_PLACE]
    times = {c: chosen(c, tests, reached(c, early)) for c in slowly}
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


def tests_of(room: str) -> list[str]:
    """Return the files of a room's tests."""
    folders = TESTS.get(room, (f"tests/{room}",))
    paths = [path for folder in folders for path in sorted(Path(folder).rglob("test_*.py"))]
    return [str(path) for path in paths if path.stem not in LEFT_OUT]


def main() -> None:
    """Draw, change, run, and print what survived and the rate."""
    asked = argparse.ArgumentParser(description="See the top of this file.")
    asked.add_argument("room")
    asked.add_argument("--sample", type=int, default=150)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--thin", type=int, default=1, help="take one case in so many of a test")
    given = asked.parse_args()
    os.chdir(ROOT)
    for name in LIBRARIES:
        importlib.import_module(name)
    start, room = time.monotonic(), ROOT / "recall" / given.room
    drawn, equal = drawn_from(room, given.seed, given.sample)
    ended = tried(room, tests_of(given.room), drawn, Pace(given.workers, given.thin))
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
