"""A morning at the telephone by scripted keys: dials, lines seen twice, keys a call.

    python tests/benchmarks/morning.py [CALLS]

The whole invented practice and its day's list; the keys are those of `tests/tui/morning.py`.
"""

from __future__ import annotations

import sys
import tempfile
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from recall.clock import Clock
from recall.config import load
from recall.desk.core.session import Desk, open_desk
from recall.desk.practice import demo, demo_files
from tests.tui.driving import drive
from tests.tui.morning import Told, morning, outcomes
from tui.app import DeskApp

CALLS = 40


def opening(path: Path) -> Desk:
    """Open the invented practice's register on its day."""
    return open_desk(load(path), by=demo.WHO, clock=Clock.at(demo.ON))


def main(calls: int) -> None:
    """Lay the practice out, ring, and tell what came of it."""
    told = Told()
    with tempfile.TemporaryDirectory() as folder:
        path = demo_files.lay_out(Path(folder))
        demo.fill(path, lambda _line: None)
        app = DeskApp(partial(opening, path))
        drive(app, partial(morning, told, outcomes(calls)))
    people = len(told.in_hand)
    print(f"{people} people in hand, {told.dials} dials, outcomes {dict(told.by_outcome)}")
    print(f"{told.passed} lines that ask for no call, passed over")
    print(f"the list ended {told.ended}" if told.ended else "the list went on")
    print(f"seen twice: {len(told.twice)}")
    for ref in told.twice:
        at = [n for n, other in enumerate(told.in_hand) if other == ref]
        print(f"  {ref}: " + "; ".join(f"call {n + 1}: {told.lines[n]}" for n in at))
    print(f"{told.keys} keys, {told.keys / max(1, told.dials):.1f} a dial")
    for line in told.stuck:
        print(f"stuck: {line}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else CALLS)
