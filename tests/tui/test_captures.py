"""What a dozen screens look like, as plain text, on a narrow and on a wide terminal.

Read the difference when one fails: it is what people will see. RECALL_CAPTURES=write writes
the files anew.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from recall.desk.core.session import Desk
from recall.errors import StorageError
from tests.tui.driving import Driver, drive
from tui.app import DeskApp

FOLDER = Path(__file__).with_name("captures")
SIZES = {"narrow": (80, 24), "wide": (120, 40)}
SCREENS: dict[str, tuple[str, ...]] = {
    "today": (),
    "calls": ("f3",),
    "calls-after-an-outcome": ("f3", "1"),
    "calls-every-outcome": ("f3", "full_stop"),
    "calls-worse": ("f3", "w", "escape"),
    "booking": ("f3", "b"),
    "has-died": ("f3", "x"),
    "find": ("f4", "r", "i"),
    "person-open": ("f3", "enter"),
    "person-ears": ("f3", "enter", "2"),
    "person-reach": ("f3", "enter", "3"),
    "help": ("f3", "f1"),
    "pass-on": ("f3", "p"),
    "pass-on-message": ("f3", "p", "4"),
    "to-see-to": ("f3", "p", "1", *"Polish", "ctrl+s", "f8"),
    "appointments": ("f5", "d", *"14/9", "enter"),
}


def compare(name: str, size: str, text: str) -> None:
    """Compare with the file of a screen, or write it."""
    path = FOLDER / f"{name}-{size}.txt"
    if os.environ.get("RECALL_CAPTURES") == "write":
        FOLDER.mkdir(exist_ok=True)
        path.write_text(text + "\n", "utf-8")

    assert text + "\n" == path.read_text("utf-8")


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", SCREENS)
def test_screens_look_as_they_did(name: str, size: str, app: DeskApp) -> None:
    seen: list[str] = []

    async def steps(driver: Driver) -> None:
        await driver.press(*SCREENS[name])
        await driver.rest()
        seen.append(driver.text)

    drive(app, steps, SIZES[size])

    compare(name, size, seen[0])


@pytest.mark.parametrize("size", SIZES)
def test_a_register_that_cannot_be_opened(size: str) -> None:
    seen: list[str] = []

    def opening() -> Desk:
        raise StorageError(
            "The database is read-only.", hint="Ask for the right to write to its folder."
        )

    async def steps(driver: Driver) -> None:
        seen.append(driver.text)

    drive(DeskApp(opening), steps, SIZES[size])

    compare("not-open", size, seen[0])


def test_a_sheet_shows_what_lies_behind_it_however_late_it_is_painted(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "b")
        driver.app.screen.refresh()
        assert "Book an appointment" in driver.text
        assert "Ask for" in driver.text

    drive(app, steps, SIZES["wide"])
