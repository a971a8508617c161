"""Whoever is passed to a clinician, and what was said of one thing only, by keys."""

from __future__ import annotations

from recall.desk.contacts.spoken_of import spoken_of
from recall.desk.core.session import Desk
from recall.desk.worklists import call_card
from recall.desk.worklists.lists import for_clinician
from tests.tui.driving import Driver, drive
from tests.tui.test_calls import calls
from tui.app import DeskApp


def test_who_is_passed_to_a_clinician_leaves_the_calls_at_once(app: DeskApp, desk: Desk) -> None:
    """By `8` once its sheet is stored, by `w` as one moves on; nothing of theirs is rung about."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        for key in ("8", "w"):
            row = calls(driver).row
            assert row is not None
            await driver.press(key)
            if driver.where == "Form":
                await driver.type("may he swim?")
                await driver.press("ctrl+s")
            if driver.where == "HandOver":
                await driver.press("escape", "down")
                await driver.rest()
            theirs = {each.follow_up for each in call_card.call_cards_of(desk, row.reference)}
            assert not theirs & set(calls(driver).lines.people)
            assert row.reference in {line.reference for line in for_clinician(desk)}

    drive(app, steps)


def test_what_may_end_one_thing_asks_which(app: DeskApp, desk: Desk) -> None:
    """Where a call is about several, the sheet names each, and all; the note is typed first."""
    cards = call_card.call_cards(desk, call_card.order(desk))
    card = next(card for card in cards if len(spoken_of(desk, card.follow_up)) == 2)
    about = [one.follow_up for one in spoken_of(desk, card.follow_up)]

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        place = calls(driver).row_list.numbers.index(card.follow_up)
        calls(driver).row_list.mark(place)
        await driver.settle()
        await driver.press("e")
        await driver.type("in May")
        await driver.press("tab", "right", "right")
        assert "All 2 of them" in driver.words
        await driver.press("ctrl+s")
        assert card.follow_up not in calls(driver).lines.people

    drive(app, steps)

    left = call_card.call_cards_of(desk, card.reference)
    assert {each.step for each in left if each.follow_up in about} == {"ask_result"}
