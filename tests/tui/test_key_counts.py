"""How many keys the work of a day takes, from the person in hand. Our own aims, no source."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.core.session import Desk
from recall.desk.worklists import call_card
from recall.records import tables
from tests.desk.practice import rows
from tests.tui.driving import Driver, drive
from tests.tui.test_calls import calls, stored
from tests.tui.test_numbers import first_to_ring, take
from tui.app import DeskApp


def keys(text: str) -> list[str]:
    """Return the keys of a text, each one its own; named ones stand in <>."""
    found, rest = [], text
    while rest:
        if rest[0] == "<":
            name, rest = rest[1:].split(">", 1)
        else:
            name, rest = rest[0], rest[1:]
        found.append(name)
    return found


def in_the_calls(app: DeskApp, desk: Desk, text: str, aim: int) -> call_card.CallCard:
    """Press some keys with somebody to ring in hand; return who it was."""
    card, pressed = first_to_ring(desk), keys(text)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        row = calls(driver).row
        assert row is not None and row.follow_up == card.follow_up
        await driver.press(*pressed)
        assert driver.where == "QueueScreen", driver.text

    drive(app, steps)
    assert len(pressed) <= aim
    return card


def test_no_answer_takes_one_key(app: DeskApp, desk: Desk) -> None:
    card = in_the_calls(app, desk, "1", 1)
    assert stored(desk) == [(card.follow_up, "phone", "no_answer")]


def test_call_again_on_thursday_at_three_takes_seven(app: DeskApp, desk: Desk) -> None:
    card = in_the_calls(app, desk, "6thu 3<ctrl+s>", 7)
    assert stored(desk) == [(card.follow_up, "phone", "call_again_on")]
    made = rows(desk.store, tables.Contact, follow_up_id=card.follow_up, outcome="call_again_on")
    assert (f"{made[-1]['until']}", made[-1]["until_at"]) == ("2026-09-10", "15:00")


def test_a_booking_takes_nine(app: DeskApp, desk: Desk) -> None:
    card = in_the_calls(app, desk, "b15/9 10<ctrl+s>", 9)
    (made,) = rows(desk.store, tables.Booking, follow_up_id=card.follow_up)
    assert made["starts_local"] == datetime(2026, 9, 15, 10)


def an_appointment(desk: Desk, days: int) -> call_card.CallCard:
    """Book somebody so many days on, at a time that nobody else has."""
    card = first_to_ring(desk)
    starts = datetime.combine(desk.today + timedelta(days=days), time(8, 5))
    bookings.book(desk, card.follow_up, None, Booking(starts, 5, why_late="nothing sooner"))
    return call_card.call_cards_of(desk, card.reference)[0]


def test_that_they_came_takes_one(app: DeskApp, desk: Desk) -> None:
    card = an_appointment(desk, 0)

    async def steps(driver: Driver) -> None:
        await driver.press("f5")
        row = driver.app.screen.row_list.row  # type: ignore[attr-defined]
        assert row is not None and row.id == card.booking_id
        await driver.press(*keys("1"))

    drive(app, steps)
    (ended,) = rows(desk.store, tables.BookingEvent, booking_id=card.booking_id)
    assert ended["what"] == "attended"


def test_moving_an_appointment_takes_at_most_fourteen(app: DeskApp, desk: Desk) -> None:
    card, pressed = an_appointment(desk, 1), keys("b115/9 10<ctrl+s>")

    async def steps(driver: Driver) -> None:
        await driver.press("f4", *card.reference.lower(), "enter")
        await driver.press(*pressed)
        assert driver.where == "PersonScreen", driver.text

    drive(app, steps)
    assert len(pressed) <= 14
    moved = rows(desk.store, tables.Booking, follow_up_id=card.follow_up)[-1]
    assert moved["starts_local"] == datetime(2026, 9, 15, 10)


def test_whoever_rings_back_is_found_in_two_and_recorded_in_three(app: DeskApp, desk: Desk) -> None:
    cards = call_card.call_cards(desk, call_card.order(desk)[:60])
    card = next(
        card for card in cards
        if card.step == "phone" and len(call_card.call_cards_of(desk, card.reference)) == 1
    )  # fmt: skip

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("1")
        await driver.press("f4", "enter")
        assert driver.where == "PersonScreen" and card.name in driver.words
        await driver.press(*keys("l5<ctrl+s>"))
        assert driver.where == "PersonScreen", driver.text

    drive(app, steps)
    assert [outcome for _number, _way, outcome in stored(desk)] == ["no_answer", "will_call_back"]


def test_anybody_rung_today_is_found_in_three(app: DeskApp, desk: Desk) -> None:
    """Whoever rings back is seldom the last one rung: each has a key of their own."""
    cards = call_card.call_cards(desk, call_card.order(desk))
    ringing = [card for card in cards if card.step == "phone" and card.number][:14]
    for card in ringing:
        contacting.log_contact(desk, card.follow_up, None, Attempt("phone", "left_message"))
    people = list(dict.fromkeys(card.reference for card in reversed(ringing)))

    async def steps(driver: Driver) -> None:
        for place, key in ((0, "1"), (8, "9"), (9, "a"), (len(people) - 1, None)):
            key = key or chr(ord("a") + place - 9)
            await driver.press("f4", "f4", key)
            assert driver.where == "PersonScreen", driver.text
            assert people[place] in driver.words and "Rung today at" in driver.words
            await driver.press("f2")

    drive(app, steps)
