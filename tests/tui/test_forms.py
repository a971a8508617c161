"""Sheets with fields, by keys: moving about, choosing, pasting, and what is asked back."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from textual import events
from textual.containers import VerticalScroll
from textual.widgets import Input

from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.people import person_card
from recall.desk.people.person_card import PersonCard
from recall.desk.worklists import call_card
from recall.desk.worklists.call_card import CallCard
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.calls import acts, booking_sheets
from tui.dialogs.form import Field, Form, Values
from tui.people import card as cards
from tui.people import changes, own_acts
from tui.widgets.cycle import Cycle

ANSWERS = (("phone", "They rang"), ("in_person", "They came in"), ("none", "Not at all"))


def form(*more: Field, kept: list[Values] | None = None) -> Form:
    """A sheet with a choice between two texts, which keeps what is stored."""
    fields = (Field("first", "First"), Field("how", "How", "choice", choices=ANSWERS), *more)
    taken = [] if kept is None else kept
    return Form("A sheet", fields, lambda _desk, values: taken.append(values))


def focus(driver: Driver) -> str:
    """The name of the field that has the focus."""
    found = driver.app.screen.focused
    assert found is not None
    return (found.id or "").removeprefix("f-")


def is_in_sight(driver: Driver) -> bool:
    """Whether the field with the focus lies wholly within what the sheet shows."""
    found = driver.app.screen.focused
    assert found is not None
    scroll = found.parent
    assert isinstance(scroll, VerticalScroll)
    return scroll.region.contains_region(found.region)


def cycle(driver: Driver) -> Cycle:
    return driver.app.screen.query_one(Cycle)


async def paste(driver: Driver, text: str) -> None:
    """Hand a text to the app as a terminal does that brackets what is pasted."""
    event = events.Paste(text)
    event.set_sender(driver.app)
    assert driver.app._driver is not None
    driver.app._driver.send_message(event)
    await driver.settle()


@pytest.fixture
def booked(desk: Desk) -> CallCard:
    """Somebody for whom one thing is open, booked within days with a clinician."""
    days = (desk.today + timedelta(days=n) for n in range(1, 15))
    starts = datetime.combine(next(d for d in days if desk.calendar.is_open(d)), time(14, 15))
    for card in call_card.call_cards(desk, call_card.order(desk)):
        open_ = call_card.call_cards_of(desk, card.reference)
        if len(open_) == 1 and open_[0].booking_id is None and card.late_by_days:
            bookings.book(desk, card.follow_up, None, Booking(starts, 30, "osei", "nothing sooner"))
            return call_card.call_cards_of(desk, card.reference)[0]
    raise AssertionError("the practice has nobody like that")


def whom(card: CallCard) -> tuple[str, ...]:
    return ("f4", *card.reference.lower(), "enter")


def test_up_and_down_move_between_fields_of_a_sheet_that_overflows(app: DeskApp) -> None:
    names = [f"n{n}" for n in range(9)]

    async def steps(driver: Driver) -> None:
        driver.app.push_screen(form(*(Field(name, name) for name in names)))
        await driver.settle()
        for name in ("first", "how", *names):
            assert focus(driver) == name
            assert is_in_sight(driver)
            await driver.press("down")
        assert focus(driver) == "store"
        await driver.press("up", "up")
        assert focus(driver) == names[-2]

    drive(app, steps, (80, 24))


def test_a_long_complaint_never_hides_the_field_that_is_typed_into(app: DeskApp) -> None:
    """The moving sheet fills 24 lines; the sentence about a late day takes three more."""

    async def steps(driver: Driver) -> None:
        fields = [Field(f"n{n}", f"n{n}") for n in range(4)]
        driver.app.push_screen(form(*fields))
        await driver.settle()
        await driver.press(*["tab"] * 5)
        assert focus(driver) == "n3"
        driver.app.screen.complain("Something is wrong with what was typed here. " * 5)  # type: ignore[attr-defined]
        await driver.settle()
        assert is_in_sight(driver)
        assert "Esc Leave" in driver.words, driver.text
        await driver.type("seen")
        assert "seen" in driver.words

    drive(app, steps, (80, 24))


def test_a_refused_booking_goes_to_the_field_that_is_wrong(app: DeskApp, booked: CallCard) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press(*whom(booked), "b", "1")
        await driver.type("+1w 2.15am")
        await driver.press("ctrl+s")
        assert "Esc Leave" in driver.words, driver.text
        assert "02:15 is at night. For the afternoon type 14:15." in driver.words
        assert focus(driver) == "when"
        assert is_in_sight(driver)
        await driver.press("ctrl+u")
        await driver.type("+1w 2.15pm")
        await driver.press(*["tab"] * 5, "ctrl+u", "ctrl+s")
        assert "after the latest day" in driver.words
        assert "Esc Leave" in driver.words, driver.text
        assert focus(driver) == "why_late"
        assert is_in_sight(driver)
        await driver.type("abroad")
        await driver.press("enter", "enter")
        assert driver.where == "PersonScreen", driver.text

    drive(app, steps, (80, 24))


def test_a_wrong_handle_or_length_is_typed_anew(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "b")
        await driver.type("+3 10")
        await driver.press("enter", "enter")
        await driver.type("nobody")
        await driver.press("ctrl+s")
        assert "no member of staff" in driver.words
        assert focus(driver) == "with"
        await driver.press("ctrl+u", "up", "ctrl+u")
        await driver.type("900")
        await driver.press("ctrl+s")
        assert "is no length" in driver.words
        assert focus(driver) == "minutes"

    drive(app, steps)


def test_enter_goes_on_from_a_choice_and_stores_from_the_last(app: DeskApp) -> None:
    kept: list[Values] = []

    async def steps(driver: Driver) -> None:
        last = Field("last", "Last", "choice", choices=ANSWERS)
        driver.app.push_screen(form(last, kept=kept))
        await driver.settle()
        await driver.press("enter", "enter")
        assert focus(driver) == "last"
        await driver.press("right", "enter")
        assert driver.where != "Form"

    drive(app, steps)

    assert [(each["how"], each["last"]) for each in kept] == [("phone", "in_person")]


@pytest.mark.parametrize("words", [" ", "told by her sister", "not by phone", "mother rang", "  t"])
def test_words_typed_into_a_choice_change_nothing(words: str, app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        driver.app.push_screen(form())
        await driver.settle()
        await driver.press("tab", "right", "left")
        await driver.type(words)
        expected = "in_person" if words == "  t" else "phone"
        assert cycle(driver).value == expected
        assert ("Words change nothing here" in driver.words) is (len(words) > 3)

    drive(app, steps)


def test_words_that_stand_nowhere_are_said_once_before_the_rest_is_stored(app: DeskApp) -> None:
    kept: list[Values] = []

    async def steps(driver: Driver) -> None:
        driver.app.push_screen(form(kept=kept))
        await driver.settle()
        await driver.press("tab")
        await driver.type("may she swim")
        await driver.press("ctrl+s")
        assert driver.where == "Form" and "is kept nowhere" in driver.words
        assert kept == []
        await driver.press("ctrl+s")
        assert driver.where != "Form"

    drive(app, steps)

    assert [each["how"] for each in kept] == ["phone"]


def test_letters_and_arrows_choose(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        driver.app.push_screen(form())
        await driver.settle()
        await driver.press("tab", "n")
        assert cycle(driver).value == "none"
        await driver.press("backspace", "t")
        assert cycle(driver).value == "phone"
        await driver.press("t")
        assert cycle(driver).value == "in_person"
        await driver.press("x", "right", "n", "o", "t")
        assert cycle(driver).value == "none"

    drive(app, steps)


def test_the_reason_for_calling_off_is_typed_first(app: DeskApp, booked: CallCard) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press(*whom(booked), "b", "2")
        await driver.type("their bus does not run")
        assert cycle(driver).value == "person"
        await driver.press("enter", "enter")
        assert driver.where == "PersonScreen", driver.text

    drive(app, steps)


def test_pasted_lines_are_joined_and_none_is_lost(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "n")
        await driver.type("says: ")
        await paste(driver, "not on Mondays\r\n\r\n ring the sister\nbefore nine\n")
        found = driver.app.screen.query_one("#f-text", Input).value
        assert found == "says: not on Mondays / ring the sister / before nine"
        await paste(driver, "")
        assert driver.app.screen.query_one("#f-text", Input).value == found

    drive(app, steps)


def test_the_time_of_an_appointment_is_on_the_card_and_the_sheets(
    app: DeskApp, desk: Desk, booked: CallCard
) -> None:
    on = booked.booked_on
    assert on is not None
    whole = f"{on:%A} {on.day} {on:%B} {on.year} at 14:15, 30 minutes, with M. Osei"

    card = person_card.person(desk, booked.reference)
    assert whole in " ".join(line.plain.strip() for line in cards.now_open(card, desk.today, 200))

    async def steps(driver: Driver) -> None:
        await driver.press(*whom(booked), "b")
        short = f"{on.day} {on:%b} 14:15 with M. Osei"
        assert f"Move from {short}:" in driver.words
        assert f"Call off {short}:" in driver.words
        for key in ("1", "2"):
            await driver.press(key)
            assert f"Booked: {whole}." in driver.words
            await driver.press("escape", "b")

    drive(app, steps)


def test_whether_they_came_is_asked_with_the_hour(desk: Desk, booked: CallCard) -> None:
    on = booked.booked_on
    assert on is not None
    (first, *_others) = own_acts.booking_choices((booked,), on)

    assert first.words.startswith(f"Did they come on {on.day} {on:%b} 14:15 with M. Osei?")
    assert any("14:15, 30 minutes" in line for line in acts.about_booked(booked))


def test_an_appointment_with_nobody_in_particular_names_nobody(
    desk: Desk, booked: CallCard
) -> None:
    starts = datetime.combine(booked.booked_on or date.max, time(9, 30))
    bookings.cancel(desk, booked.booking_id or 0, "person")
    bookings.book(desk, booked.follow_up, None, Booking(starts, 20, None, "nothing sooner"))
    (now,) = call_card.call_cards_of(desk, booked.reference)

    assert acts.booked(now.appointment) == "09:30"
    assert acts.booked(now.appointment, whole=True).endswith("at 09:30, 20 minutes")


def test_a_window_that_has_gone_by_says_so(desk: Desk, booked: CallCard) -> None:
    late = booking_sheets.window(booked)
    by = f"{booked.latest.day} {booked.latest:%b} {booked.latest.year}"

    assert late == f"was due by {by}: as soon as they can"

    ahead = next(s for s in call_card.call_cards(desk, call_card.order(desk)) if not s.late_by_days)
    assert "; aim for " in booking_sheets.window(ahead)


@pytest.fixture
def child(desk: Desk) -> PersonCard:
    """Somebody with an adult, both of whom have a number."""
    for card in call_card.call_cards(desk, call_card.order(desk)):
        card = person_card.person(desk, card.reference)
        phones = {way.adult_id for way in card.contact_points if way.kind == "phone"}
        if None in phones and len(phones) > 1:
            return card
    raise AssertionError("the practice has nobody like that")


def test_ways_to_reach_say_whose_they_are(child: PersonCard) -> None:
    names = {None: child.name, **{adult.id: adult.name for adult in child.adults}}
    words = dict(changes.contact_point_choices(child))

    for way in child.contact_points:
        assert words[str(way.id)].endswith(f", {names[way.adult_id]}")


def test_who_gets_the_letters_is_asked_plainly(app: DeskApp, child: PersonCard) -> None:
    async def steps(driver: Driver) -> None:
        driver.app.push_screen(changes.adult_sheet(child, changes.NEW))
        await driver.settle()
        assert "Letters go to this person instead" in driver.words

    drive(app, steps)


MISTYPED = [
    ("phone", ["07700 9003"], "no such number can exist"),
    ("email", ["rowan.example.org"], "rowan.example.org"),
    ("address", ["7 Teasel Row / Wrenfield", "WQ99"], "WQ99"),
]


@pytest.mark.parametrize(("kind", "typed", "told"), MISTYPED)
def test_what_cannot_exist_is_stored_only_at_the_second_time(
    kind: str, typed: list[str], told: str, app: DeskApp, desk: Desk, child: PersonCard
) -> None:
    def count() -> int:
        return len(person_card.person(desk, child.ref).contact_points)

    before = len(child.contact_points)

    async def steps(driver: Driver) -> None:
        driver.app.push_screen(changes.contact_point_sheet(child, f"{changes.NEW} {kind}"))
        await driver.settle()
        for text in typed:
            await driver.type(text)
            await driver.press("enter")
        await driver.press("ctrl+s")
        assert told in driver.words
        assert "Ctrl+S once more" in driver.words
        assert is_in_sight(driver)
        assert count() == before
        await driver.type("9")
        await driver.press("ctrl+s")
        assert "Ctrl+S once more" in driver.words
        assert count() == before
        await driver.press("ctrl+s")
        assert driver.where != "Form"
        assert count() == before + 1

    drive(app, steps)
