"""What the day's list tells beside its rows: free times that do not fit, and what to mind."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest

from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.worklists import appointments, call_card
from tests.tui.driving import Driver, drive
from tests.tui.test_appointments import at_desk, day_list, next_open
from tui.app import DeskApp

WITH = ("osei", "quill", None)


def a_full_day(desk: Desk) -> date:
    """Give three who see people a dozen appointments each on the next open day."""
    day, begins = next_open(desk), (time(h, m) for h in range(8, 20) for m in (0, 30))
    cards = iter(call_card.call_cards(desk, call_card.order(desk)))
    seen = set[str]()
    for made, at in enumerate(begins):
        card = next(
            c for c in cards
            if c.booking_id is None and c.reference not in seen and not c.contact_stopped
        )  # fmt: skip
        seen.add(card.reference)
        entry = Booking(datetime.combine(day, at), 10, WITH[made % 3], "nothing sooner")
        bookings.book(desk, card.follow_up, None, entry)
    return day


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_free_times_that_do_not_fit_are_counted_and_one_key_away(
    app: DeskApp, desk: Desk, practice: Path, size: tuple[int, int]
) -> None:
    at_desk(practice, app, a_full_day(desk))

    async def steps(driver: Driver) -> None:
        await driver.press("f5")
        assert "press w." in driver.words
        found = day_list(driver).shown
        assert found is not None and len(found.free) == 3
        await driver.press("w")
        assert "as far as the bookings here tell" in driver.words
        for whose in found.free:
            assert whose in driver.words
        await driver.press("escape")
        assert driver.where == "AppointmentsScreen"

    drive(app, steps, size)


def test_what_can_hurt_stands_below_the_one_in_hand(
    app: DeskApp, desk: Desk, practice: Path
) -> None:
    """A caution of the register, told as for the visit sheet, with the mark of what comes first."""
    day = next_open(desk)
    for n, card in enumerate(call_card.call_cards(desk, call_card.order(desk))[:40]):
        if card.booking_id is None and not card.contact_stopped:
            at = datetime.combine(day, time(8)) + timedelta(minutes=15 * n)
            bookings.book(desk, card.follow_up, None, Booking(at, 10, None, "nothing sooner"))
    (first, *_rest) = [row for row in appointments.day(desk, day) if row.cautions]
    at_desk(practice, app, day)

    async def steps(driver: Driver) -> None:
        await driver.press("f5")
        screen = day_list(driver)
        while screen.row is not None and screen.row.id != first.id:
            await driver.press("down")
        assert f"! Mind {first.cautions[0]}" in driver.words
        assert screen.row is not None and f"{screen.row.name}" in driver.words

    drive(app, steps)


def test_what_was_said_of_one_goes_with_the_next_one_in_hand(
    app: DeskApp, desk: Desk, practice: Path
) -> None:
    at_desk(practice, app, a_full_day(desk))

    async def steps(driver: Driver) -> None:
        await driver.press("f5", "f")
        assert "Mark an appointment that was called off" in driver.words
        await driver.press("down")
        assert "Mark an appointment that was called off" not in driver.words
        await driver.press("1", "f", "down")
        assert "Attended." in driver.words, "what was done stays"

    drive(app, steps, (120, 40))
