"""The day's appointments, by keys: who came, a day typed in later, times that fall free."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path

import pytest
from sqlalchemy import select

from recall.clock import Clock
from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.worklists import appointments, call_card
from recall.desk.worklists.appointments import AppointmentRow
from recall.records.tables import BookingEvent
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.screens.appointments import AppointmentsScreen

LATE = "nothing sooner"


@pytest.fixture
def booked(desk: Desk) -> list[int]:
    """Four late people, booked on the next open day from nine o'clock on."""
    day = next_open(desk)
    made: list[int] = []
    seen: set[str] = set()
    for card in call_card.call_cards(desk, call_card.order(desk)):
        if len(made) == 4:
            return made
        new = card.booking_id is None and card.reference not in seen
        if new and card.late_by_days and not card.contact_stopped:
            seen.add(card.reference)
            starts = datetime.combine(day, datetime.min.time()) + timedelta(hours=9 + len(made))
            entry = Booking(starts, 20, "osei", LATE)
            done = bookings.book(desk, card.follow_up, None, entry)
            assert done.made is not None
            made.append(done.made)
    raise AssertionError("the practice has nobody like that")


def next_open(desk: Desk) -> date:
    """The next open day after today on which nobody comes yet."""
    days = (desk.today + timedelta(days=n) for n in range(1, 60))
    return next(d for d in days if desk.calendar.is_open(d) and not appointments.day(desk, d))


def at_desk(practice: Path, app: DeskApp, on: date) -> None:
    """Let the reception's desk stand at a day."""
    app._opening = partial(_at, practice, on)


def _at(practice: Path, on: date) -> Desk:
    return replace(opening(practice), clock=Clock.at(on))


def ends(desk: Desk, numbers: list[int]) -> list[tuple[str, date]]:
    """Return how appointments ended and on which day, in order of the appointment."""
    e = BookingEvent
    wanted = select(e.what, e.on).where(e.booking_id.in_(numbers), e.void_at.is_(None))
    with desk.store.read() as session:
        return [tuple(row) for row in session.execute(wanted.order_by(e.booking_id, e.id))]


def day_list(driver: Driver) -> AppointmentsScreen:
    screen = driver.app.screen
    assert isinstance(screen, AppointmentsScreen)
    return screen


def in_hand(driver: Driver) -> AppointmentRow:
    row = day_list(driver).row
    assert row is not None
    return row


def test_who_came_is_one_key_each(
    app: DeskApp, desk: Desk, practice: Path, booked: list[int]
) -> None:
    day = appointment(desk, booked[0]).starts_local.date()
    at_desk(practice, app, day)

    async def steps(driver: Driver) -> None:
        await driver.press("f5")
        assert "4 appointments, 4 without a word on who came." in driver.words
        await driver.press("1")
        assert in_hand(driver).id == booked[1]
        await driver.press("u")
        assert in_hand(driver).id == booked[0], "the correction is for the same person"
        await driver.press("1")
        assert in_hand(driver).id == booked[1]
        await driver.press("2")
        assert in_hand(driver).id == booked[1], "they may still come"
        assert "booked for 10:00 today, and may still come" in driver.words
        assert app._desk is not None
        app._desk = replace(app._desk, clock=Clock.at(day, hour=18))
        for number, key in zip(booked[1:], "231", strict=True):
            assert in_hand(driver).id == number
            await driver.press(key)
        assert "0 without a word" in driver.words
        await driver.press("2")
        assert "recorded already" in driver.words
        await driver.press("u")
        assert "taken back" in driver.words

    drive(app, steps)

    (came, missed, not_brought) = ends(desk, booked)
    assert (came, not_brought) == (("attended", day), ("was_not_brought", day))
    assert missed[0] in ("did_not_attend", "was_not_brought")


def appointment(desk: Desk, number: int) -> AppointmentRow:
    from recall.records.tables import Booking as Row

    with desk.store.read() as session:
        starts = session.scalar(select(Row.starts_local).where(Row.id == number))
    assert starts is not None
    return next(row for row in appointments.day(desk, starts.date()) if row.id == number)


def test_a_day_worked_on_paper_is_typed_in_later(
    app: DeskApp, desk: Desk, practice: Path, booked: list[int]
) -> None:
    """The next day, Left leads to the day on paper; each row is one key, and shown as late."""
    day = appointment(desk, booked[0]).starts_local.date()
    at_desk(practice, app, day + timedelta(days=1))

    async def steps(driver: Driver) -> None:
        await driver.press("f5", "left")
        assert "What you press is entered late" in driver.words
        await driver.press(*"1211")
        assert driver.words.count("· late") == 4

    drive(app, steps, (120, 40))

    assert [on for _what, on in ends(desk, booked)] == [day] * 4


def test_nobody_is_ticked_off_before_the_day(
    app: DeskApp, desk: Desk, practice: Path, booked: list[int]
) -> None:
    day = appointment(desk, booked[0]).starts_local.date()

    async def steps(driver: Driver) -> None:
        await driver.press("f5", "d")
        await driver.type(f"{day.day}/{day.month}")
        await driver.press("enter")
        assert in_hand(driver).id == booked[0]
        await driver.press("1")
        assert "was NOT recorded" in driver.words
        assert in_hand(driver).id == booked[0]

    drive(app, steps)

    assert ends(desk, booked) == []


def test_what_falls_free_is_offered_to_who_would_come_earlier(
    app: DeskApp, desk: Desk, booked: list[int]
) -> None:
    """The last of the day would come earlier: the first calls off, and the last is moved there."""
    first, last = appointment(desk, booked[0]), appointment(desk, booked[3])
    day = first.starts_local.date()

    async def steps(driver: Driver) -> None:
        await driver.press("f5", "d")
        await driver.type(f"{day.day}/{day.month}")
        await driver.press("enter", "end", "e")
        await driver.type("mornings")
        await driver.press("enter", "home", "x", "ctrl+s")
        assert f"Would come earlier: 1. {last.name}" in driver.words
        assert "as far as the bookings here tell" in driver.words
        await driver.press("f", "1")
        assert "Move the appointment" in driver.words, driver.text
        await driver.press("ctrl+s")
        assert driver.where == "AppointmentsScreen", driver.text

    drive(app, steps)

    now = [row for row in appointments.day(desk, day) if not row.ended]
    assert (now[0].ref, now[0].starts_local) == (last.ref, first.starts_local)
    assert len(now) == 3


@pytest.mark.parametrize("late", [False, True])
def test_booking_takes_at_most_nine_keys(app: DeskApp, desk: Desk, late: bool) -> None:
    """From the person in hand: `b`, day and time, Ctrl+S; a late day has its reason already."""
    pick = [c for c in call_card.call_cards(desk, call_card.order(desk)) if not c.contact_stopped]
    card = next(c for c in pick if (c.late_by_days > 0) == late and c.booking_id is None)
    day = next_open(desk)
    keys = ["b", *f"{day.day}/{day.month} 10", "ctrl+s"]

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        place = driver.app.screen.row_list.numbers.index(card.follow_up)  # type: ignore[attr-defined]
        driver.app.screen.row_list.mark(place)  # type: ignore[attr-defined]
        await driver.settle()
        await driver.press(*keys)
        assert driver.where == "QueueScreen", driver.text
        assert "Booked for" in driver.words

    drive(app, steps)

    assert len(keys) <= 9
    (row,) = appointments.day(desk, day)
    assert bool(row.late_why) == late


def test_moving_takes_at_most_fourteen_keys_and_who_came_one(
    app: DeskApp, desk: Desk, practice: Path, booked: list[int]
) -> None:
    day = appointment(desk, booked[0]).starts_local.date()
    to = next_open(desk)
    keys = ["m", *f"{to.day}/{to.month} 10", "ctrl+s"]
    at_desk(practice, app, day)

    async def steps(driver: Driver) -> None:
        await driver.press("f5")
        assert in_hand(driver).id == booked[0]
        await driver.press(*keys)
        assert driver.where == "AppointmentsScreen", driver.text
        assert in_hand(driver).id == booked[1]
        await driver.press("1")

    drive(app, steps)

    assert len(keys) <= 14
    assert [what for what, _on in ends(desk, booked)] == ["moved_by_person", "attended"]


def test_a_time_that_is_taken_is_said_while_it_is_typed(
    app: DeskApp, desk: Desk, booked: list[int]
) -> None:
    taken = appointment(desk, booked[0])
    day = taken.starts_local.date()

    async def steps(driver: Driver) -> None:
        await driver.press("f3", "b")
        await driver.type(f"{day.day}/{day.month} 9.10")
        assert f"At the same time: {taken.ref} with osei, 09:00 to 09:20." in driver.words
        assert "Next free, as far as the bookings here tell: 09:20." in driver.words
        await driver.press("tab", "tab")
        await driver.type("osei")
        assert f"Taken: {taken.ref} with osei" in driver.words
        await driver.press("ctrl+s")
        assert "once more stores it as it is" in driver.words, driver.text
        await driver.press("ctrl+s")
        assert driver.where == "QueueScreen", driver.text

    drive(app, steps, (120, 40))

    assert len([row for row in appointments.day(desk, day) if not row.ended]) == 5


def test_the_day_is_printed_and_written_for_reminders(
    app: DeskApp, desk: Desk, booked: list[int]
) -> None:
    day = appointment(desk, booked[0]).starts_local.date()

    async def steps(driver: Driver) -> None:
        await driver.press("f5", "d")
        await driver.type(f"{day.day}/{day.month}")
        await driver.press("enter", "p")
        # where they lie may be long, so that a name is broken over two lines
        assert f"appointments-{day}.pdf" in driver.words.replace(" ", "")
        await driver.press("r")
        assert f"reminders-for-{day}" in driver.words.replace(" ", "")

    drive(app, steps, (120, 40))

    assert (desk.config.files.letters / f"appointments-{day}.pdf").is_file()


def test_the_diary_is_counted_by_one_key_and_today_says_where_it_differs(
    app: DeskApp, desk: Desk, practice: Path, booked: list[int]
) -> None:
    at_desk(practice, app, appointment(desk, booked[0]).starts_local.date())

    async def steps(driver: Driver) -> None:
        await driver.press("f5", "n", "6", "ctrl+s")
        assert driver.words.count("The diary has 6, here are 4.") == 2
        await driver.press("f2", "r")
        assert "The diary has 6, here are 4." in driver.words
        await driver.press("f5", "n", "4", "ctrl+s")
        assert "The diary has 4, as many as here." in driver.words
        await driver.press("f2", "r")
        assert "The diary has" not in driver.words

    drive(app, steps)
