"""Levelling, what if and the bars on the screen: what the commands say, by one key or one sheet."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from recall.desk.core.session import Desk
from recall.desk.oversight import ahead_text
from recall.desk.oversight.ahead import Change, ahead, levelled, what_if
from recall.desk.oversight.month_figures import figures
from recall.desk.oversight.month_paper import as_bars
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tests.tui.test_manager import register
from tui.app import DeskApp
from tui.dialogs.text_sheet import TextSheet


@pytest.fixture
def manager(app: DeskApp, practice: Path) -> DeskApp:
    app._opening = lambda: opening(practice, "quill")
    return app


def sheet(driver: Driver) -> str:
    """What the sheet in front says, whole, line by line as it is shown."""
    found = driver.app.screen
    assert isinstance(found, TextSheet), driver.text
    said = str(found._text)
    first = said.splitlines()[:3]
    assert all(any(line.strip() in row for row in driver.text.splitlines()) for line in first)
    return said + "\n"


def test_ahead_is_levelled_and_tried_by_keys(manager: DeskApp, desk: Desk) -> None:
    found = ahead(desk)
    proposal = levelled(desk, found)
    closed = next(
        day
        for day in (desk.today + timedelta(days=n) for n in range(1, 30))
        if not desk.calendar.is_open(day)
    )
    told: list[str] = []

    async def steps(driver: Driver) -> None:
        await register(driver)
        await driver.press("6", "z")
        told.append(sheet(driver))
        assert "fullest day, minutes" in driver.words
        await driver.press("escape", "q", "ctrl+s")
        assert "Nothing is to be tried." in driver.words
        await driver.type(f"{closed.day}/{closed.month}/{closed.year}")
        await driver.press("ctrl+s")
        told.append(sheet(driver))
        await driver.press("escape", "q", "tab", "tab", "tab", "tab")
        await driver.type("30")
        await driver.press("ctrl+s")
        told.append(sheet(driver))
        await driver.press("escape", "q", "tab")
        await driver.type("nobody")
        await driver.press("ctrl+s")
        assert "nobody is not on the rota." in driver.words

    drive(manager, steps)

    days, opened, portion = told
    assert days == ahead_text.as_levelled(proposal, 12)
    assert opened == ahead_text.as_tried(what_if(desk, found, Change(open_on=closed)))
    assert portion == ahead_text.as_tried(what_if(desk, found, Change(portion=30)))


def test_the_fullest_days_stand_first(desk: Desk) -> None:
    proposal = levelled(desk, ahead(desk))
    lines = ahead_text.as_levelled(proposal, 3).splitlines()
    head = next(n for n, line in enumerate(lines) if line.startswith("day "))
    shown = [max(map(int, line.split()[-2:])) for line in lines[head + 1 : head + 4]]

    both = (proposal.before.days, proposal.after.days)
    fullest = sorted((max(each[day] for each in both) for day in proposal.days), reverse=True)
    assert shown == fullest[:3]


def test_the_accounts_draw_the_bars_of_the_quarter_shown(manager: DeskApp, desk: Desk) -> None:
    told: list[str] = []

    async def steps(driver: Driver) -> None:
        await register(driver)
        await driver.press("z")
        assert "Ahead and Accounts" in driver.words
        await driver.press("f", "z")
        told.append(sheet(driver))
        await driver.press("escape", "left", "z")
        told.append(sheet(driver))

    drive(manager, steps)

    assert desk.today == date(2026, 9, 7)
    assert told == [
        as_bars(figures(desk, date(2026, 8, 31))),
        as_bars(figures(desk, date(2026, 6, 30))),
    ]
