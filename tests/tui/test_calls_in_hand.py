"""Calls: the list under a cursor that stays, and the words that stand beside it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from textual.widgets import Static

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.people.editing import edit_details
from recall.desk.worklists import call_card
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.calls.card import call_card as drawn_card
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
        assert "More stands below" in driver.words
        await driver.press(*("pagedown",) * 6)
        assert "Write down what was said before the next call." in driver.words
        assert "More stands below" not in driver.words
        await driver.press("escape")
        assert calls(driver).row_list.number == row.follow_up

    drive(app, steps)


def on_card(driver: Driver) -> str:
    """Return what the call card says, without the list beside it."""
    shown = driver.app.screen.query_one("#call-card", Static).content
    return " ".join(str(shown).split())


def test_what_is_to_be_said_is_whole_on_a_narrow_card_however_much_stands_there(
    app: DeskApp, desk: Desk
) -> None:
    (first,) = call_card.call_cards(desk, call_card.order(desk)[:1])
    edit_details(desk, first.reference, None, caller_note="Speak slowly, and face her. " * 3)
    for n in range(3):
        contacting.note(desk, first.follow_up, f"Works nights in week {n}, " * 8)

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        row = calls(driver).row
        assert row is not None and row.reference == first.reference
        assert f"“{row.why}”" in on_card(driver)
        assert all(warning in on_card(driver) for warning in row.warnings)
        assert "1 No answer" in on_card(driver) and "more" in on_card(driver)

    drive(app, steps, (80, 24))


def test_what_has_no_room_on_the_shortest_card_is_said_to_stand_elsewhere(desk: Desk) -> None:
    (row,) = call_card.call_cards(desk, call_card.order(desk)[:1])
    row = replace(row, warnings=("Speak slowly, and face her.",) * 9)
    drawn = [str(line) for line in drawn_card(row, desk.today, 48, 9, "", "the rest: y")]
    assert len(drawn) == 9 and drawn[-1].strip() == "the rest: y"


def test_escape_puts_away_what_the_full_stop_opened_and_leaves_only_then(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        before = on_card(driver)
        await driver.press("full_stop")
        assert "Has died" in on_card(driver) and "more: . or Esc" in on_card(driver)
        await driver.press("escape")
        assert driver.where == "QueueScreen" and on_card(driver) == before
        await driver.press("escape")
        assert driver.where == "StartScreen"

    drive(app, steps, (80, 24))


def test_a_field_that_stays_empty_is_named_whatever_it_is_called(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "x", "ctrl+s")
        said = "Nothing is written yet under “Type the person's whole name to go on”."
        assert said in driver.words

    drive(app, steps)
