"""What stays in sight: who is in hand, what was done last, how a command is found."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.worklists import call_card
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tests.tui.test_calls import calls
from tests.tui.test_numbers import first_to_ring, take
from tui.app import DeskApp
from tui.commands.outcomes import KEYED_OUTCOMES
from tui.manager.rereading import OLD, place_of
from tui.screens.manager import ManagerScreen

LOOKS = True


def test_all_outcomes_leave_the_person_in_sight(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "full_stop")
        row = calls(driver).row
        assert row is not None
        for words in (row.name, "born", row.ask_for, *(o.short[:12] for o in KEYED_OUTCOMES)):
            assert words in driver.words, words

    drive(app, steps, (80, 24))


def test_what_follows_is_told_to_its_end(app: DeskApp, desk: Desk) -> None:
    card = first_to_ring(desk)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("e")
        await driver.type("at the hospital")
        await driver.press("ctrl+s")
        assert calls(driver).just.rstrip(".")[-30:] in driver.words
        assert "Esc Back" in driver.lines[-1]

    drive(app, steps, (80, 24))


def test_somebody_new_begins_where_something_is_missing(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f4")
        await driver.type("zyxland")
        await driver.press("enter")
        assert driver.where == "Form", driver.text
        focused = driver.app.screen.focused
        assert focused is not None and focused.id == "f-given_names"
        await driver.type("Ada")
        assert "Ada" in driver.words

    drive(app, steps)


def test_the_search_for_commands_stands_on_every_line_of_keys(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        for key in ("f2", "f3", "f4", "f5", "f6", "f7", "f8"):
            await driver.press(key)
            assert "Ctrl+P Search  ? Help  Esc Back" in driver.lines[-1], key

    drive(app, steps, (80, 24))


def test_a_list_that_takes_long_is_left_alone_for_a_while_and_says_that_it_is_old(
    clinician: DeskApp, practice: Path, desk: Desk
) -> None:
    """Reading it took ten seconds: for the next fifty only the key reads it again."""

    async def steps(driver: Driver) -> None:
        await driver.press("f6")
        screen = driver.app.screen
        assert isinstance(screen, ManagerScreen)
        screen.action_show("returns")
        await driver.settle()
        now = driver.app.key_clock.now()
        screen._rereading.begins(now - 10)
        screen._rereading.ends(now)
        assert OLD not in driver.words
        other = opening(practice, "lund")
        number = call_card.order(desk)[0]
        contacting.log_contact(other, number, None, Attempt("phone", "worse", by_them=True))
        other.close()
        await driver.until(lambda: OLD in driver.words)
        await driver.press("comma")
        assert OLD not in driver.words

    drive(clinician, steps, (120, 40))


def test_what_a_line_is_about_is_found_again_wherever_it_stands() -> None:
    first, second, third = (
        SimpleNamespace(rule=rule, asked=asked) for rule, asked in (("a", 1), ("b", 2), ("b", 5))
    )
    assert place_of(second, [first, third]) == 2
    assert place_of(first, [third, first]) == 2
    assert place_of(first, [third]) is None and place_of(None, [first]) is None
