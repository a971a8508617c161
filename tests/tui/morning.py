"""A morning at the telephone by scripted keys: whom it rings, how often it dials, where it ends.

The mix of outcomes is always the same. No source gives the shares: somebody who rings all morning
reaches fewer than half. Keys are counted as a hand presses them, with the words that a booking or
a note needs. Nothing is timed.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass, field

from recall.desk.worklists.call_card import CallCard
from recall.protocol.contact_steps import STEP
from tests.tui.driving import Driver
from tui.screens.queue import QueueScreen

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
    ended: str = ""
    """Where the list ended, if it did before every call was made."""

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
            told.ended = "nobody is left to reach"
            return
        # An address to check is no call; who did not answer is rung again in the afternoon.
        if not STEP[row.step].is_call or screen._is_for_later(row):
            told.passed += 1
            await press(told, driver, "down")
            if screen.row_list.number == row.follow_up:
                told.ended = f"at the last line, {row.reference}: {why_no_call(screen, row)}"
                return
            continue
        told.in_hand.append(row.reference)
        told.lines.append(f"{keys[n]} {row.follow_up} {row.step}")
        await call(told, driver, screen, keys[n], n)


def why_no_call(screen: QueueScreen, row: CallCard) -> str:
    """Say why a line is passed over."""
    if screen._is_for_later(row):
        return f"rung again at {row.hour:%H:%M}"
    return f"its step is {row.step}"


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
