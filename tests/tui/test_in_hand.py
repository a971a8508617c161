"""Whoever is in hand is claimed, and no other desk is led to them."""

from __future__ import annotations

from pathlib import Path

from recall.desk.contacts import contacting
from recall.desk.core.session import Desk
from recall.desk.worklists import call_card
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.screens.queue import QueueScreen


def calls(driver: Driver) -> QueueScreen:
    screen = driver.app.screen
    assert isinstance(screen, QueueScreen)
    return screen


def held_by(desk: Desk) -> set[str]:
    """Whose line in the list is in the hand of whoever is at the tested desk."""
    cards = call_card.call_cards(desk, call_card.order(desk))
    return {card.reference for card in cards if card.claim_by == "thackray"}


def test_whoever_is_in_hand_is_claimed_and_free_again_when_the_desk_looks_elsewhere(
    app: DeskApp, desk: Desk
) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        for key in ("down", "down", "up", "1"):
            row = calls(driver).row
            assert row is not None and held_by(desk) == {row.reference}
            await driver.press(key)
            await driver.rest()
        row = calls(driver).row
        assert row is not None and held_by(desk) == {row.reference}
        await driver.press("f2")
        assert held_by(desk) == set()
        await driver.press("f3")
        assert held_by(desk) == {row.reference}

    drive(app, steps)

    assert held_by(desk) == set()


def test_the_next_in_hand_is_nobody_whom_another_desk_holds(app: DeskApp, practice: Path) -> None:
    other = opening(practice, "lund")
    _first, second, third = call_card.order(other)[:3]
    contacting.claim(other, second)
    other.close()

    async def steps(driver: Driver) -> None:
        await driver.press("f3", "1")
        assert calls(driver).row_list.number == third

    drive(app, steps)


def test_after_undo_the_work_goes_on_with_whoever_was_in_hand(app: DeskApp) -> None:
    """Not with whoever stands below the one that it was about, far down the list."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3", "end", "up", "up")
        far = calls(driver).row_list.number
        await driver.press("2", "home")
        top = calls(driver).row_list.number
        await driver.press("u")
        assert calls(driver).row_list.number == far
        await driver.press("2")
        assert calls(driver).row_list.number == top

    drive(app, steps)
