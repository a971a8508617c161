"""What is typed before a sheet is there is for that sheet: a choice on the way eats nothing."""

from __future__ import annotations

from datetime import datetime, timedelta

from textual.widgets import Input

from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.worklists import call_card
from recall.desk.worklists.call_card import CallCard
from recall.records import tables
from tests.desk.practice import rows
from tests.tui.driving import Driver, drive
from tui.app import DeskApp


def with_several(desk: Desk) -> CallCard:
    """Return somebody for whom more than one thing is open, and nothing booked."""
    for card in call_card.call_cards(desk, call_card.order(desk)):
        mine = call_card.call_cards_of(desk, card.reference)
        if len(mine) > 1 and not any(each.booked_on for each in mine):
            return card
    raise AssertionError("the practice has nobody like that")


def test_a_booking_for_somebody_with_several_things_open_opens_at_once(
    app: DeskApp, desk: Desk
) -> None:
    card = with_several(desk)

    async def steps(driver: Driver) -> None:
        await driver.press("f4", *card.reference.lower(), "enter")
        await driver.burst("b", *"15/9 10")
        assert driver.where == "Form", driver.text
        assert driver.app.screen.query_one("#f-when", Input).value == "15/9 10"
        await driver.press("ctrl+s")

    drive(app, steps)

    made = rows(desk.store, tables.Booking, starts_local=datetime(2026, 9, 15, 10))
    assert card.follow_up in {each["follow_up_id"] for each in made}


def test_what_is_typed_into_a_choice_stands_in_the_sheet_that_it_opens(
    app: DeskApp, desk: Desk
) -> None:
    card = with_several(desk)
    starts = datetime.combine(desk.today + timedelta(days=1), datetime.min.time()).replace(hour=11)
    bookings.book(desk, card.follow_up, None, Booking(starts, 5, why_late="nothing sooner"))

    async def steps(driver: Driver) -> None:
        await driver.press("f4", *card.reference.lower(), "enter")
        await driver.burst("b", *"15/9 10", "enter")
        assert driver.where == "Choose", driver.text
        assert "“15/9 10” is kept for what opens then" in driver.words
        await driver.press("1")
        assert driver.where == "Form", driver.text
        assert driver.app.screen.query_one("#f-when", Input).value == "15/9 10"
        await driver.press("escape", "escape", "b", "1")
        assert driver.where == "Form", driver.text
        assert driver.app.screen.query_one("#f-when", Input).value == ""

    drive(app, steps)


def test_a_choice_that_is_left_while_its_key_waits_does_nothing(app: DeskApp, desk: Desk) -> None:
    card = with_several(desk)

    async def steps(driver: Driver) -> None:
        await driver.press("f4", *card.reference.lower(), "enter", "l")
        assert driver.where == "Choose", driver.text
        await driver.burst("1", "escape")
        driver.clock.move(1)
        await driver.settle()
        assert driver.where == "PersonScreen", driver.text

    drive(app, steps)
