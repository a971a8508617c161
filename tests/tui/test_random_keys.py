"""Random keys on every screen: no crash, nothing unexpected, Escape always leads home.

200 keys in the suite; RECALL_EXAMPLES=5000 presses that many.
"""

from __future__ import annotations

import random

import pytest

from recall.desk.core.session import Desk
from tests.seeds import examples
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.commands.table import AREAS, COMMANDS

KEYS = examples(200)
LEAVING = {"ctrl+q"}
TYPED = [
    *"abcxyz019[/]{}'$é👂م",
    "space",
    "backspace",
    "tab",
    "shift+tab",
    "left",
    "right",
    "delete",
]
ALL = sorted({k for c in COMMANDS for k in c.keys.split(",")} - LEAVING) + TYPED
HOME = AREAS[0].id


@pytest.mark.parametrize("area", [area.id for area in AREAS])
def test_no_keys_break_the_desk(area: str, app: DeskApp, desk: Desk) -> None:
    picked = random.Random(f"wrenfield {area}")
    start = next(a for a in AREAS if a.id == area).keys.partition(",")[0]
    count = max(1, KEYS // len(AREAS))

    async def steps(driver: Driver) -> None:
        await driver.press(start)
        pressed: list[str] = []
        for _ in range(count):
            pressed.append(picked.choice(ALL))
            await driver.press(pressed[-1])
            assert driver.app.is_running, pressed
            assert_nothing_unexpected(driver, pressed)
        for _ in range(12):
            await driver.press("escape")
        assert driver.app.current_mode == HOME, pressed
        assert len(driver.app.screen_stack) == 1, pressed

    drive(app, steps)

    assert_whole(desk)


def assert_nothing_unexpected(driver: Driver, pressed: list[str]) -> None:
    assert "Something unexpected" not in driver.text, (pressed[-12:], driver.text)


def assert_whole(desk: Desk) -> None:
    """The chain of changes is whole, and no follow-up fell out."""
    from sqlalchemy import func, select

    from recall.records.journal import history
    from recall.records.tables import FollowUp

    assert history.verify(desk.store) == ()
    with desk.store.read() as session:
        lost = select(func.count()).where(FollowUp.is_open, FollowUp.next_step_on.is_(None))
        assert session.scalar(lost) == 0
