"""Calls: the list under a cursor that stays, and the words that stand beside it."""

from __future__ import annotations

from pathlib import Path

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.screens.queue import QueueScreen


def calls(driver: Driver) -> QueueScreen:
    """Return the list of calls that is open."""
    assert isinstance(driver.app.screen, QueueScreen)
    return driver.app.screen


def test_the_order_changes_under_a_cursor_that_stays(app: DeskApp, practice: Path) -> None:
    """Somebody goes to a clinician elsewhere: the row in hand stays, on its line of the screen."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3", *["down"] * 9)
        row_list = calls(driver).row_list
        held, line = row_list.number, row_list.marked - round(row_list.scroll_offset.y)
        other = opening(practice, "lund")
        last = row_list.numbers[-1]
        contacting.log_contact(other, last, None, Attempt("phone", "worse", by_them=True))
        other.close()
        await driver.press("r")
        assert row_list.number == held
        assert row_list.marked - round(row_list.scroll_offset.y) == line
        assert last not in row_list.numbers

    drive(app, steps, (80, 24))


def test_the_words_for_the_call_stand_there_by_one_key(app: DeskApp) -> None:
    """Who it is before why, for whom the card asks for; the person stays in hand."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        row = calls(driver).row
        assert row is not None
        await driver.press("y")
        assert "Words for the call" in driver.words
        assert f"May I speak to {row.ask_for}, please?" in driver.words
        assert "Do not say where you call from, or why." in driver.words
        assert "Voicemail" in driver.words
        await driver.press("escape")
        assert calls(driver).row_list.number == row.follow_up

    drive(app, steps)
