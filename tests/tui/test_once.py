"""What is to be done a moment later is done, however busy the machine is meanwhile."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from textual import timer

from tests.tui.driving import Driver, drive
from tests.tui.test_calls import calls
from tui.app import DeskApp
from tui.register.keys import PACE

TUI = Path(__file__).resolve().parents[2] / "tui"


def test_keys_on_a_sheet_are_answered_where_the_machine_stalls(
    app: DeskApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A timer of the toolkit is begun and finds its span gone by: it never does its one turn."""
    asked, stalls = timer._time.get_time, itertools.count()
    behind = itertools.accumulate(itertools.cycle((0.0, PACE * 2)))

    class Stalling:
        @staticmethod
        def get_time() -> float:
            next(stalls)
            return asked() + next(behind)

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        assert calls(driver).row is not None
        monkeypatch.setattr(timer, "_time", Stalling)
        await driver.press("s")
        assert driver.where == "Form"
        await driver.press("tab", "tab")
        await driver.press("escape")
        assert driver.where == "QueueScreen"

    drive(app, steps)
    assert next(stalls)


def test_no_screen_begins_a_timer_of_the_toolkit_for_one_turn() -> None:
    used = [p.name for p in TUI.rglob("*.py") if ".set_timer(" in p.read_text("utf-8")]
    assert used == ["once.py"]
