"""Which lines of some rooms each test goes through, and how long it takes: traced once, and kept.

What is kept lies in `.mutation` at the top of the checkout, a file for each state of the code of
those rooms. Of its tests only those are traced again that are new or were changed since.
"""

from __future__ import annotations

import hashlib
import json
import signal
import sys
import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import zip_longest
from pathlib import Path
from types import CodeType
from typing import Any

import pytest
from _pytest.runner import runtestprotocol

SLOW = 2.0
"""Seconds of work, as traced, after which a test is broken off and left out."""
OFTEN = 25
"""Calls of one function that are traced within one test; the lines of any further one are not."""
Lines = dict[str, list[int]]
"""Lines gone through, by file."""


class TooSlow(BaseException):
    """A test took too long to be of use here."""


class Trace:
    """The lines of some rooms that are gone through."""

    def __init__(self, rooms: tuple[str, ...]) -> None:
        self.rooms, self.often = rooms, sys.maxsize
        self.lines: set[tuple[str, int]] = set()
        self.calls: dict[CodeType, int] = {}

    def _line(self, frame: Any, event: str, _: Any) -> Any:
        self.lines.add((frame.f_code.co_filename, frame.f_lineno))
        return self._line

    def __call__(self, frame: Any, event: str, _: Any) -> Any:
        code = frame.f_code
        if not code.co_filename.startswith(self.rooms):
            return None
        calls = self.calls[code] = self.calls.get(code, 0) + 1
        return self._line(frame, event, None) if calls <= self.often else None

    def taken(self) -> Lines:
        """Return the lines so far by file, and begin anew."""
        found: Lines = {}
        for file, line in self.lines:
            found.setdefault(file, []).append(line)
        self.lines, self.calls = set(), {}
        return found


def _digest(texts: Iterable[str]) -> str:
    made = hashlib.sha256()
    for text in texts:
        made.update(text.encode())
    return made.hexdigest()[:16]


def kept_at(top: Path, rooms: tuple[str, ...]) -> Path:
    """Return the file of what is traced of these rooms as their code stands."""
    files = [p for room in rooms for p in sorted(Path(room).rglob("*.*")) if p.suffix != ".pyc"]
    return top / ".mutation" / f"{_digest(p.read_text('utf-8') for p in files)}.json"


def _helpers(folder: Path) -> list[Path]:
    return [p for p in sorted(folder.glob("*.py")) if not p.name.startswith("test_")]


def _marks(items: list[pytest.Item]) -> dict[str, str]:
    """Return a digest of each test: of its file and the helpers beside it, and of its case."""
    files: dict[Path, str] = {}
    for path in {item.path for item in items}:
        files[path] = _digest(p.read_text("utf-8") for p in (path, *_helpers(path.parent)))
    cases = {i.nodeid: getattr(getattr(i, "callspec", None), "params", {}) for i in items}
    return {i.nodeid: _digest((files[i.path], repr(cases[i.nodeid]))) for i in items}


@dataclass(eq=False)
class Tracing:
    """The tests as traced; of a new or changed one, its lines and its time are found out."""

    trace: Trace
    kept: Path
    late: bool = False
    """Whether the test in hand took too long: what it then ends in is another library's word."""
    left_out: set[str] = field(default_factory=set)
    """Tests that stand on something that was broken off."""

    def pytest_runtest_makereport(self, item: pytest.Item, call: pytest.CallInfo[None]) -> None:
        """Note what was too slow."""
        if call.excinfo is not None and call.excinfo.errisinstance(TooSlow):
            self.left_out.add(item.nodeid)

    def _break_off(self, *_: object) -> None:
        self.late = True
        raise TooSlow

    def read(self) -> dict[str, Any]:
        """Return what is kept."""
        return json.loads(self.kept.read_text("utf-8")) if self.kept.exists() else {}

    def bring_up_to_date(self, items: list[pytest.Item]) -> str:
        """Trace what is new or changed, and keep it; return the name of a test that failed."""
        tests, marks = self.read(), _marks(items)
        new = [i for i in items if tests.get(i.nodeid, {}).get("mark") != marks[i.nodeid]]
        signal.signal(signal.SIGPROF, self._break_off)
        self.trace.often, failed = OFTEN, False
        for item, after in zip_longest(new, new[1:]):
            failed, test = self._traced(item, after)
            if failed:
                break
            tests[item.nodeid] = {"mark": marks[item.nodeid], **test}
        self.kept.parent.mkdir(exist_ok=True)
        self.kept.write_text(json.dumps(tests), "utf-8")
        return item.nodeid if failed else ""

    def _traced(self, item: pytest.Item, after: pytest.Item | None) -> tuple[bool, dict[str, Any]]:
        start, self.late = time.process_time(), False
        signal.setitimer(signal.ITIMER_PROF, SLOW, SLOW)
        sys.settrace(self.trace)
        reports = runtestprotocol(item, nextitem=after, log=False)
        sys.settrace(None)
        signal.setitimer(signal.ITIMER_PROF, 0)
        took, lines = time.process_time() - start, self.trace.taken()
        if self.late or item.nodeid in self.left_out:
            return False, {"took": took, "lines": None}
        return any(report.failed for report in reports), {"took": took, "lines": lines}
