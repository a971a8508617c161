"""F1 explains a screen, and a second time shows the manual's page that belongs to it."""

from __future__ import annotations

from recall import manual
from recall.manual.plain import plain
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.commands.table import TITLES
from tui.dialogs.explain import MANUAL

SCREENS = {
    "start": "f2",
    "queue": "f3",
    "find": "f4",
    "manager": "f6",
    "post": "f7",
    "day": "f5",
    "matters": "f8",
}


def test_every_screen_has_its_page_and_heading() -> None:
    assert {"everywhere", *MANUAL} == set(TITLES)
    for page, heading in MANUAL.values():
        assert heading in plain(manual.page(page))


def test_f1_twice_opens_the_manual_at_the_screens_place(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        for where, key in SCREENS.items():
            page, heading = MANUAL[where]
            await driver.press(key, "f1")
            assert f"Help: {TITLES[where]}" in driver.text
            await driver.press("f1")
            assert f"Manual: {manual.title(page)}" in driver.text
            assert heading in driver.text
            await driver.press("f1")
            assert driver.where != "Help"

    drive(app, steps)
