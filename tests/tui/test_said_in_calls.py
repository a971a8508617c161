"""What the list of calls says of what is put off, of what was taken back, of who is at home."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, time, timedelta

import pytest
from sqlalchemy import insert, update

from recall.desk.core.session import Desk
from recall.desk.worklists import call_card
from recall.desk.worklists.call_card import CallCard
from recall.records import tables
from tests.desk.practice import FLUID, later, somebody, visit
from tests.desk.test_per_person import WAX
from tests.tui.driving import Driver, drive
from tests.tui.test_calls import stored
from tests.tui.test_in_hand import calls
from tests.tui.test_numbers import take
from tui.app import DeskApp
from tui.calls.queueing import what_now
from tui.words.text import full_day


def one(desk: Desk, fits: Callable[[CallCard], bool]) -> CallCard:
    cards = call_card.call_cards(desk, call_card.order(desk))
    return next(card for card in cards if card.numbers and not card.spoken and fits(card))


def of_weeks(desk: Desk) -> CallCard:
    """Return somebody to ring whose latest day comes within the 28 days of a stay in hospital."""
    visit(later(desk, -3), somebody(desk, "T1"), right=FLUID, left=WAX)
    cards = call_card.call_cards(desk, call_card.order(desk))
    card = next(card for card in cards if card.reference == "T1")
    assert desk.today + timedelta(days=10) < card.call_by < desk.today + timedelta(days=28)
    return card


@pytest.mark.parametrize("typed", ["", "+21"])
def test_a_stay_that_passes_the_latest_day_is_said_and_asked(
    typed: str, app: DeskApp, desk: Desk
) -> None:
    """Empty it means in 28 days: whoever stores that knows what it passes."""
    card = of_weeks(desk)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("h", *typed, "ctrl+s")
        assert driver.where == "Form" and not stored(desk)
        said = f"fter the latest day, {full_day(card.call_by)}."
        assert said in driver.words and "Ctrl+S once more" in driver.words, driver.text
        await driver.press("ctrl+s")
        assert driver.where == "QueueScreen", driver.text
        assert "That is after the latest day" in driver.words

    drive(app, steps)
    assert [outcome for *_, outcome in stored(desk)] == ["in_hospital"]


def test_a_stay_that_ends_in_time_is_asked_about_by_nobody(app: DeskApp, desk: Desk) -> None:
    card = of_weeks(desk)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("h", *"+9", "ctrl+s")
        assert driver.where == "QueueScreen" and "after the latest day" not in driver.words

    drive(app, steps)


def test_what_was_taken_back_elsewhere_is_no_longer_told_as_done_last(
    app: DeskApp, desk: Desk
) -> None:
    card = one(desk, lambda card: True)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("5")
        await driver.rest()
        assert f"Last {card.name}: Spoke: will call back." in driver.words
        await driver.press("f5", "u")
        await driver.press("y")
        await driver.press("f3")
        await driver.rest()
        assert f"Last {card.name}: taken back. It stands no longer." in driver.words, driver.text
        assert calls(driver).done_today == 0

    drive(app, steps)
    assert stored(desk) == []


def test_who_is_at_home_is_not_to_be_booked_before_they_leave(desk: Desk) -> None:
    """Only on the day of a visit are they there; what an answer asks is asked of them at home."""
    card = one(desk, lambda card: True)
    with desk.store.write() as session:
        due = tables.Due.__table__
        held = tables.FollowUpDue.__table__
        mine = held.select().where(held.c.follow_up_id == card.follow_up)
        ids = [row.due_id for row in session.execute(mine)]
        session.execute(update(due).where(due.c.id.in_(ids)).values(asked_on=desk.today))
    (now,) = [
        c for c in call_card.call_cards_of(desk, card.reference) if c.follow_up == card.follow_up
    ]
    assert now.step == "book_now" and now.at_home
    assert now.next.startswith("Ring and offer a day: ")
    assert what_now(now, "phone").startswith(f"Reach {now.ask_for} by phone")


def test_the_card_of_the_next_one_is_shown_after_every_outcome(app: DeskApp, desk: Desk) -> None:
    card = one(desk, lambda card: card.step == "phone")

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("full_stop")
        assert "x Has died" in driver.words and calls(driver).every_outcome
        await driver.press("5")
        await driver.rest()
        assert not calls(driver).every_outcome and "x Has died" not in driver.words
        await driver.press("full_stop", "down")
        assert not calls(driver).every_outcome

    drive(app, steps)


def test_a_key_right_after_undo_is_about_whoever_comes_back_into_hand(
    app: DeskApp, desk: Desk
) -> None:
    """It opens what it opens; one that records is refused: nobody has read who that is."""
    card = one(desk, lambda card: card.step == "phone")

    async def right_after(driver: Driver, key: str) -> None:
        await driver.press("5")
        await driver.rest()
        driver.clock.move(2)
        driver._send("u")
        driver.clock.move(0.3)
        driver._send(key)
        await driver.settle()
        driver.clock.move(1)
        await driver.settle()

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await right_after(driver, "6")
        assert driver.where == "Form", driver.text
        assert f"{card.name}, born {full_day(card.born)}" in driver.words
        await driver.press("escape")
        await right_after(driver, "1")
        assert "Read first who is in hand now" in driver.words, driver.text

    drive(app, steps)
    assert stored(desk) == []


def booked_besides(desk: Desk, card: CallCard, days: int) -> None:
    """Book somebody for something else, in so many days at four."""
    made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id}
    starts = datetime.combine(desk.today + timedelta(days=days), time(16))
    with desk.store.write() as session:
        row = {"person_id": card.person_id, "starts_local": starts, "zone": "Europe/London"}
        session.execute(insert(tables.Booking).values(**row, **made))


def test_who_comes_today_for_something_else_is_seen_before_they_are_rung(
    app: DeskApp, desk: Desk
) -> None:
    card = of_weeks(desk)
    booked_besides(desk, card, 0)
    booked_besides(desk, card, 7)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        assert "! Comes today 16:00, for something else" in driver.words, driver.text
        await driver.press("h")
        assert "Stays booked:" in driver.words and "call it off on F5" in driver.words

    drive(app, steps)


def test_who_was_booked_for_something_gone_by_is_not_said_to_come(desk: Desk) -> None:
    card = of_weeks(desk)
    booked_besides(desk, card, -1)
    (again,) = call_card.call_cards(desk, [card.follow_up])
    assert again.comes == ()
    booked_besides(desk, card, 3)
    (again,) = call_card.call_cards(desk, [card.follow_up])
    assert [each.starts_local.date() for each in again.comes] == [desk.today + timedelta(days=3)]


def test_another_way_is_of_the_person_in_hand_alone(app: DeskApp, desk: Desk) -> None:
    """Common practice, no source: whoever is next is rung, whatever the one before wanted."""
    card = one(desk, lambda card: card.step == "phone")

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("v", "v")
        assert "by e-mail. Then press" in driver.words and calls(driver).channel == "email"
        await driver.press("down")
        assert calls(driver).channel == "phone"
        await driver.press("up")
        assert calls(driver).channel == "email"

    drive(app, steps)
