"""A morning at the telephone by scripted keys: dials, lines seen twice, keys a call.

    python tests/benchmarks/morning.py [CALLS]

The whole invented practice, its day's list, and a mix of outcomes that is always the same. No
source gives the shares: somebody who rings all morning reaches fewer than half. Keys are counted
as a hand presses them, with the words that a booking or a note needs. Nothing is timed.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from recall.clock import Clock
from recall.config import load
from recall.desk.core.session import Desk, open_desk
from recall.desk.practice import demo, demo_files
from recall.protocol.contact_steps import STEP
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.screens.queue import QueueScreen

CALLS = 40
MIX = (*(("1", 16), ("2", 8), ("3", 3), ("5", 4), ("6", 3), ("0", 2), ("b", 4)),)
"""Of forty: no answer, a message, somebody else, will ring, again on a day, wrong, booked."""
WEEK = 7
"""Somebody is booked for a working day of the weeks to come; the practice's day is a Monday."""


@dataclass
class Told:
    """What a morning came to."""

    dials: int = 0
    passed: int = 0
    """Lines that ask for no call, passed over."""
    keys: int = 0
    in_hand: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)
    """By the place in the morning: the key, the follow-up and its step."""
    by_outcome: Counter[str] = field(default_factory=Counter)
    stuck: list[str] = field(default_factory=list)

    @property
    def twice(self) -> list[str]:
        """Whoever came into hand again after the call with them was done."""
        return [ref for ref, times in Counter(self.in_hand).items() if times > 1]


def outcomes(calls: int) -> list[str]:
    """Return the keys of a morning's outcomes, shuffled in one and the same way."""
    keys = [key for key, share in MIX for _ in range(share)]
    random.Random("a morning").shuffle(keys)
    return [keys[n % len(keys)] for n in range(calls)]


async def morning(told: Told, keys: list[str], driver: Driver) -> None:
    """Ring as many people as there are keys, or as the list has."""
    await driver.press("f3")
    while len(told.in_hand) < len(keys):
        await driver.rest()
        screen = driver.app.screen
        assert isinstance(screen, QueueScreen), driver.text
        row, n = screen.row, len(told.in_hand)
        if row is None:
            return
        # An address to check is no call; who did not answer is rung again in the afternoon.
        if not STEP[row.step].is_call or screen._is_for_later(row):
            told.passed += 1
            await press(told, driver, "down")
            if screen.row_list.number == row.follow_up:
                return
            continue
        told.in_hand.append(row.reference)
        told.lines.append(f"{keys[n]} {row.follow_up} {row.step}")
        await call(told, driver, screen, keys[n], n)


async def call(told: Told, driver: Driver, screen: QueueScreen, key: str, n: int) -> None:
    """Dial the person in hand, and record what came of it; a wrong number is followed by others."""
    before = screen.row_list.number
    while True:
        told.dials += 1
        told.by_outcome[key] += 1
        await record(told, driver, key, n)
        if key != "0" or screen.row_list.number != before:
            return
        key = "1"  # the next number of the same person


async def record(told: Told, driver: Driver, key: str, n: int) -> None:
    """Press what records an outcome, and fill in the sheet that it opens."""
    await press(told, driver, key)
    if key == "b":
        await write(told, driver, f"+{WEEK * (1 + n % 3) + n % 5} 9.{n % 6}0")
        await press(told, driver, "enter", "enter", "enter", "ctrl+u")
        await write(told, driver, "the first that suits")
    if driver.where == "Form":
        await press(told, driver, "ctrl+s")
    if driver.where != "QueueScreen":
        told.stuck.append(f"{key}: {driver.words[:200]}")
        await press(told, driver, "escape", "escape")


async def press(told: Told, driver: Driver, *keys: str) -> None:
    """Press keys and count them."""
    told.keys += len(keys)
    await driver.press(*keys)


async def write(told: Told, driver: Driver, text: str) -> None:
    """Type a text and count its letters."""
    told.keys += len(text)
    await driver.type(text)


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
    print(f"seen twice: {len(told.twice)}")
    for ref in told.twice:
        at = [n for n, other in enumerate(told.in_hand) if other == ref]
        print(f"  {ref}: " + "; ".join(f"call {n + 1}: {told.lines[n]}" for n in at))
    print(f"{told.keys} keys, {told.keys / max(1, told.dials):.1f} a dial")
    for line in told.stuck:
        print(f"stuck: {line}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else CALLS)
