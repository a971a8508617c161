"""The accounts on the screen: the same figures as the command, each opening its people."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from recall.accounts.cohort import Cohort, Period
from recall.desk.core.session import Desk
from recall.desk.oversight.accounts import accounts
from recall.desk.oversight.accounts_rows import beside, state_rows
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tests.tui.test_manager import register
from tui.app import DeskApp
from tui.manager.accounts import quarter
from tui.screens.person import PersonScreen


@pytest.fixture
def manager(app: DeskApp, practice: Path) -> DeskApp:
    app._opening = lambda: opening(practice, "quill")
    return app


@pytest.mark.parametrize(
    ("day", "back", "first"),
    [
        (date(2026, 9, 7), 0, date(2026, 7, 1)),
        (date(2026, 1, 1), 1, date(2025, 10, 1)),
        (date(2026, 12, 31), -1, date(2027, 1, 1)),
    ],
)
def test_a_quarter_is_counted_from_the_day(day: date, back: int, first: date) -> None:
    assert quarter(day, back)[0] == first


def test_every_line_is_the_commands_and_opens_as_many_asks_as_it_says(
    manager: DeskApp, desk: Desk
) -> None:
    found = accounts(desk, Cohort(Period(*quarter(desk.today, 1))))
    rows = (*state_rows(found), *beside(found))
    wanted = [row for row in rows if row.asks or row.known_then or row.known_since]
    shown: list[object] = []
    opened: list[int] = []

    async def steps(driver: Driver) -> None:
        screen = await register(driver)
        await driver.press("f", "left")
        assert screen.listed is not None
        shown.extend(screen.listed.rows)
        for n in range(len(wanted)):
            await driver.press("f", "home", *["down"] * n, "enter")
            assert screen.listed is not None
            opened.append(len(screen.listed.rows))
        await driver.press("enter")
        assert isinstance(driver.app.screen, PersonScreen)

    drive(manager, steps, (80, 24))

    assert shown == wanted
    assert opened == [row.asks for row in wanted]
