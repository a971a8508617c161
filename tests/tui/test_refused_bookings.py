"""A time that cannot be had: said while it is typed, and typed anew without emptying the field."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path

from recall.config import Rota
from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.worklists import call_card
from recall.desk.worklists.call_card import CallCard
from recall.records import tables
from tests.desk.practice import rows
from tests.desk.test_ahead import with_rota
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tests.tui.test_calls import calls
from tests.tui.test_numbers import first_to_ring, take
from tui.app import DeskApp
from tui.calls.booking_sheets import WHY_LATE
from tui.people.own_acts import booking_choices
from tui.words.text import full_day

SATURDAY = date(2026, 9, 12)


def another(desk: Desk, card: CallCard) -> CallCard:
    cards = call_card.call_cards(desk, call_card.order(desk))
    return next(
        c for c in cards
        if c.reference != card.reference and c.booking_id is None and not c.contact_stopped
    )  # fmt: skip


def test_the_next_time_takes_the_place_of_one_that_is_taken_and_keeps_its_day(
    app: DeskApp, desk: Desk
) -> None:
    card = first_to_ring(desk)
    other = another(desk, card)
    entry = Booking(datetime(2026, 9, 15, 10), 20, "quill", "nothing sooner")
    bookings.book(desk, other.follow_up, None, entry)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("b")
        await driver.type("15/9 10")
        await driver.press("tab", "tab")
        await driver.type("quill")
        await driver.press("ctrl+s")
        assert "Ctrl+S once more stores it as it is" in driver.words
        assert "a time alone is on Tuesday 15 September 2026" in driver.words
        assert driver.words.count(f"Taken: {other.reference}") == 1, "it is said once"
        assert "15/9 10" in driver.words and "quill" in driver.words, "nothing typed is lost"
        await driver.type("10.20")
        assert "once more stores" not in driver.words, "that was of another time"
        assert "Tuesday 15 September 2026 at 10:20: free" in driver.words
        await driver.press("ctrl+s")
        assert driver.where == "QueueScreen", driver.text

    drive(app, steps)

    (made,) = rows(desk.store, tables.Booking, follow_up_id=card.follow_up)
    assert made["starts_local"] == datetime(2026, 9, 15, 10, 20)


def test_a_day_on_which_nobody_is_here_is_said_while_it_is_typed(app: DeskApp, desk: Desk) -> None:
    card = first_to_ring(desk)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("b")
        for typed, said in (
            ("12/9 10", "not open on a Saturday"),
            ("14/9 5am", "at night"),
            ("15/9 10", "free"),
        ):
            await driver.press(*["backspace"] * 9)
            await driver.type(typed)
            assert said in driver.words, driver.words
            assert ("It would be refused." in driver.words) is (said != "free")
        await driver.press("escape", "escape")
        assert calls(driver).row is not None

    drive(app, steps)

    assert not desk.calendar.is_open(SATURDAY)


def test_one_appointment_is_one_line_however_much_it_meets(desk: Desk) -> None:
    for card in call_card.call_cards(desk, call_card.order(desk)):
        mine = call_card.call_cards_of(desk, card.reference)
        if len(mine) < 2 or card.contact_stopped or any(one.booking_id for one in mine):
            continue
        day = desk.calendar.open_from(desk.today + timedelta(days=1))
        assert day is not None
        entry = Booking(datetime.combine(day, time(9)), 20, None, "nothing sooner")
        bookings.book(desk, card.follow_up, None, entry)
        now = call_card.call_cards_of(desk, card.reference)
        met = [one for one in now if one.booking_id is not None]
        if len(met) > 1:
            break
    else:
        raise AssertionError("the practice has nobody like that")

    choices = booking_choices(now, desk.today)

    assert [c.value.split()[0] for c in choices if not c.value.startswith("book")] == [
        "move",
        "cancel",
    ]
    assert all(one.why in choices[0].words for one in met)


def test_who_is_not_in_that_day_is_asked_about_once_in_moving_from_the_person_too(
    app: DeskApp, practice: Path, desk: Desk
) -> None:
    """Who sees them stays unless another is named: by the rota osei is not in on a Wednesday."""
    card = first_to_ring(desk)
    entry = Booking(datetime(2026, 9, 15, 10), 20, "osei", "nothing sooner", all_the_same=True)
    bookings.book(desk, card.follow_up, None, entry)
    here = opening(practice)
    app._opening = lambda: with_rota(here, Rota(who="osei", minutes={"mon": 120, "tue": 180}))

    async def steps(driver: Driver) -> None:
        await driver.press("f4", *card.reference.lower(), "enter", "b")
        at = next(n for n, line in enumerate(driver.lines) if "Move from 15 Sep" in line)
        key = driver.lines[at].split("Move from")[0].split()[-1]
        await driver.press(key)
        await driver.type("16/9 10")
        assert "By the rota osei is not in on Wednesday 16 September 2026" in driver.words
        await driver.press("ctrl+s")
        assert "Ctrl+S once more stores it as it is" in driver.words
        assert len(rows(desk.store, tables.Booking, follow_up_id=card.follow_up)) == 1
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen", driver.text

    drive(app, steps)

    made = rows(desk.store, tables.Booking, follow_up_id=card.follow_up)
    assert [each["starts_local"].day for each in made] == [15, 16]


def test_a_late_day_is_said_while_it_is_typed_and_its_reason_can_be_put_in_other_words(
    app: DeskApp, desk: Desk
) -> None:
    card = first_to_ring(desk)
    day = desk.calendar.open_from(max(card.latest, desk.today) + timedelta(days=1))
    assert day is not None

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("b")
        await driver.type(f"{day:%d/%m/%Y} 10")
        assert f"Late: after the latest day, {full_day(card.latest)}." in driver.words
        assert WHY_LATE in driver.words
        await driver.press("tab", "tab", "tab", *["backspace"] * len(WHY_LATE))
        await driver.type("Away till then")
        await driver.press("ctrl+s")
        assert driver.where == "QueueScreen", driver.text

    drive(app, steps)

    (made,) = rows(desk.store, tables.Booking, follow_up_id=card.follow_up)
    assert made["starts_local"] == datetime.combine(day, time(10))
    assert made["late_why"] == "Away till then"
