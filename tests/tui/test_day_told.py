"""What the day's list tells beside its rows: free times that do not fit, and what to mind."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from functools import partial
from pathlib import Path

import pytest

from recall.clock import Clock
from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.worklists import appointments, call_card
from tests.tui.conftest import opening
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


def test_what_can_hurt_stands_below_the_one_in_hand(desk: Desk, practice: Path) -> None:
    """A caution of the register, told to whoever treats the ear; reception has what to know of
    the person, what may be said aloud, and where the rest stands."""
    day = next_open(desk)
    for n, card in enumerate(call_card.call_cards(desk, call_card.order(desk))[:40]):
        if card.booking_id is None and not card.contact_stopped:
            at = datetime.combine(day, time(8)) + timedelta(minutes=15 * n)
            bookings.book(desk, card.follow_up, None, Booking(at, 10, None, "nothing sooner"))
    told = {row.id: row for row in appointments.day(desk, day, clinical=True)}
    first = next(row for row in appointments.day(desk, day) if told[row.id].cautions)
    assert (first.cautions, first.is_minded) == ((), True)
    aloud, whole = first.meets[0], told[first.id]
    assert aloud not in whole.meets

    async def steps(driver: Driver, shown: tuple[str, ...], hidden: tuple[str, ...]) -> None:
        await driver.press("f5")
        screen = day_list(driver)
        while screen.row is not None and screen.row.id != first.id:
            await driver.press("down")
        assert screen.row is not None and f"{screen.row.name}" in driver.words
        for words in (*shown, *(f"! Know {warning}" for warning in first.warnings)):
            assert words in driver.words
        assert not [words for words in hidden if words in driver.words]

    clinical = f"! Mind {whole.cautions[0]}", f"Meets {whole.meets[0]}"
    reception = f"Meets {aloud}", "must know is on their list and on paper (p)"
    for by, shown, hidden in (
        ("thackray", reception, clinical),
        ("osei", clinical, reception),
    ):
        app = DeskApp(lambda by=by: replace(opening(practice, by), clock=Clock.at(day)))
        drive(app, partial(steps, shown=shown, hidden=hidden))


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
