"""Somebody rings or walks in: found, and booked, moved, called off or logged, by keys."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import select

from recall.desk.core.session import Desk
from recall.desk.people import person_card
from recall.desk.worklists import call_card
from recall.desk.worklists.call_card import CallCard
from recall.loop.outcomes import BY_ID
from recall.records.tables import Booking, BookingEvent, Contact
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.commands.outcomes import KEYED_OUTCOMES
from tui.people.own_acts import outcomes


@pytest.fixture
def alone(desk: Desk) -> CallCard:
    """Somebody to ring for whom one thing is open, and nothing booked."""
    for card in call_card.call_cards(desk, call_card.order(desk)):
        open_ = call_card.call_cards_of(desk, card.reference)
        if len(open_) == 1 and open_[0].booking_id is None and card.step == "phone":
            return card
    raise AssertionError("the practice has nobody like that")


def opened(card: CallCard) -> tuple[str, ...]:
    return ("f4", *card.reference.lower(), "enter")


def by_them(desk: Desk, card: CallCard) -> list[tuple[str, str, bool]]:
    """Return what stands of today's contacts about a follow-up."""
    c = Contact
    wanted = select(c.channel, c.outcome, c.by_them).where(
        c.follow_up_id == card.follow_up, c.on == desk.today, c.void_at.is_(None)
    )
    with desk.store.read() as session:
        return [tuple(row) for row in session.execute(wanted.order_by(c.id))]


def test_who_rings_in_is_booked_moved_and_called_off(
    app: DeskApp, desk: Desk, alone: CallCard
) -> None:
    days = [n for n in range(1, 15) if desk.calendar.is_open(desk.today + timedelta(days=n))]

    async def steps(driver: Driver) -> None:
        await driver.press(*opened(alone), "b")
        await driver.type(f"+{days[0]} 9.30")
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen", driver.text
        assert by_them(desk, alone) == [("phone", "booked", True)]
        await driver.press("b", "1")
        await driver.type(f"+{days[1]} 14")
        await driver.press("tab", "right", "ctrl+s")
        assert driver.where == "PersonScreen", driver.text
        assert booked(desk, alone) == desk.today + timedelta(days=days[1])
        await driver.press("b", "2", "ctrl+s")
        assert driver.where == "PersonScreen", driver.text

    drive(app, steps)

    assert booked(desk, alone) is None
    with desk.store.read() as session:
        ended = session.execute(
            select(BookingEvent.what)
            .join(Booking, Booking.id == BookingEvent.booking_id)
            .where(Booking.follow_up_id == alone.follow_up, BookingEvent.on == desk.today)
            .order_by(BookingEvent.id)
        )
        assert [row.what for row in ended] == ["moved_by_practice", "cancelled_by_person"]


def test_an_appointment_for_what_is_closed_by_now_is_shown_and_called_off(
    app: DeskApp, desk: Desk
) -> None:
    """A visit before the day closed what it was made for: it must not stay on unseen."""
    cards = (person_card.person(desk, ref) for ref in everybody(desk))
    card = next(card for card in cards if card.loose and not card.follow_ups)
    (loose,) = card.loose

    async def steps(driver: Driver) -> None:
        await driver.press("f4", *card.ref.lower(), "enter")
        assert f"at {loose.starts_local:%H:%M}, for what is closed by now" in driver.words
        await driver.press("b", "ctrl+s")
        assert driver.where == "PersonScreen", driver.text
        assert "for what is closed by now" not in driver.words

    drive(app, steps)

    assert person_card.person(desk, card.ref).loose == ()


def booked(desk: Desk, card: CallCard) -> date | None:
    (now,) = call_card.call_cards_of(desk, card.reference)
    return now.booked_on


def test_what_they_say_is_theirs_and_taken_back(app: DeskApp, desk: Desk, alone: CallCard) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press(*opened(alone), "l", "6")
        assert "Call again on" in driver.words
        await driver.type("thu 3")
        await driver.press("tab", "tab", "right", "ctrl+s")
        assert driver.where == "PersonScreen", driver.text
        assert by_them(desk, alone) == [("in_person", "call_again_on", True)]
        assert "Thursday 10 September 2026" in driver.words and "15:00" in driver.words
        await driver.press("u")
        assert "call again on a day" in driver.words
        assert by_them(desk, alone) != []
        await driver.press("y")
        assert by_them(desk, alone) == []

    drive(app, steps)


def test_worse_is_stored_at_once_and_says_what_to_do(
    app: DeskApp, desk: Desk, alone: CallCard
) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press(*opened(alone), "l", "w")
        assert f"Do not ring off: {alone.name}" in driver.words
        assert by_them(desk, alone) == [("phone", "worse", True)]
        await driver.press("escape")
        assert driver.where == "PersonScreen"

    drive(app, steps)

    (now,) = call_card.call_cards_of(desk, alone.reference)
    assert now.step == "clinician_call"


def test_what_stops_contact_asks_for_the_name(app: DeskApp, desk: Desk, alone: CallCard) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press(*opened(alone), "l", "o", "ctrl+s")
        assert "Nothing is written yet under" in driver.words
        await driver.type("Somebody Else")
        await driver.press("ctrl+s")
        assert "nothing was recorded" in driver.words
        assert by_them(desk, alone) == []
        await driver.press("ctrl+u")
        await driver.type(alone.family_name)
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen", driver.text
        assert by_them(desk, alone) == [("phone", "do_not_contact", True)]

    drive(app, steps)


def test_nothing_open_is_said(app: DeskApp, desk: Desk) -> None:
    cards = (person_card.person(desk, ref) for ref in everybody(desk))
    closed = next(card for card in cards if not card.follow_ups and not card.loose)

    async def steps(driver: Driver) -> None:
        await driver.press("f4", *closed.ref.lower(), "enter", "b")
        assert driver.where == "PersonScreen"
        assert "Nothing is open for this person" in driver.text

    drive(app, steps)


def everybody(desk: Desk) -> list[str]:
    from recall.records.tables import Person

    with desk.store.read() as session:
        return list(session.scalars(select(Person.ref)))


def test_what_can_be_said_of_a_call_is_every_outcome_that_strikes_no_number() -> None:
    """A number is struck in the list of calls, where it stands; a message is sent from there."""
    not_here = {"message_sent", "wrong_number", "not_here"}

    assert {each.value for each in outcomes()} == set(BY_ID) - not_here - {"booked"}
    assert [each.key for each in outcomes()] == [
        each.key for each in KEYED_OUTCOMES if each.id not in not_here
    ]


def test_a_message_that_we_left_is_three_keys_of_whoever_it_was(
    app: DeskApp, desk: Desk, alone: CallCard
) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press(*opened(alone), "l", "2", "ctrl+s")
        assert driver.where == "PersonScreen", driver.text
        assert "Last Left a message: name and number only." in driver.words

    drive(app, steps)

    assert by_them(desk, alone) == [("phone", "left_message", False)]
