"""The numbers of the person in hand, by keys: the next one, a wrong one, a shared one; promises."""

from __future__ import annotations

from recall.desk.contacts.contact_points import add_contact_point
from recall.desk.contacts.entries import ContactPoint
from recall.desk.core.session import Desk
from recall.desk.people.person_card import person
from recall.desk.worklists import call_card, call_lines
from recall.records import tables
from tests.desk.practice import rows
from tests.tui.driving import Driver, drive
from tests.tui.test_calls import calls, stored
from tui.app import DeskApp


def first_to_ring(desk: Desk) -> call_card.CallCard:
    """Return the first card of the list whose step is a call."""
    cards = call_card.call_cards(desk, call_card.order(desk)[:40])
    return next(card for card in cards if card.step == "phone" and card.numbers)


async def take(driver: Driver, card: call_card.CallCard) -> None:
    """Go to the call list and down to a card."""
    await driver.press("f3")
    place = calls(driver).row_list.numbers.index(card.follow_up)
    await driver.press(*["down"] * place)


def test_three_numbers_are_shown_in_order_and_a_wrong_one_offers_the_next_now(
    app: DeskApp, desk: Desk
) -> None:
    card = first_to_ring(desk)
    for raw in ("01632 960981 (gran)", "01632 960982 after 6pm"):
        point = ContactPoint("phone", raw, adult_id=None)
        add_contact_point(desk, card.reference, point)
    shown = call_card.call_cards(desk, [card.follow_up])[0].numbers
    assert len(shown) >= 3

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        assert "gran" in driver.words and "after 6pm" in driver.words
        await driver.press("right")
        row = calls(driver).row
        assert row is not None and row.number == shown[1].raw
        await driver.press("0")
        assert driver.where == "Form" and f"Strikes {shown[1].raw}." in driver.words
        await driver.press("ctrl+s")
        assert f"{shown[1].raw} is struck." in driver.words
        again = calls(driver).row
        assert again is not None and again.follow_up == card.follow_up
        assert [n.raw for n in again.numbers] == [n.raw for n in shown if n is not shown[1]]

    drive(app, steps)

    assert stored(desk) == [(card.follow_up, "phone", "wrong_number")]


def test_a_number_of_others_too_is_struck_only_after_it_was_said(app: DeskApp, desk: Desk) -> None:
    card = first_to_ring(desk)
    other = next(c for c in call_card.call_cards(desk, call_card.order(desk)[:40]) if c != card)
    add_contact_point(desk, other.reference, ContactPoint("phone", card.numbers[0].raw))

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("0")
        assert "it is struck for all" in driver.words
        await driver.press("escape", "z")
        assert driver.where == "Form" and stored(desk) == []  # what destroys asks once
        await driver.press("ctrl+s")
        assert driver.where == "QueueScreen"

    drive(app, steps)

    assert stored(desk) == [(card.follow_up, "phone", "not_here")]
    kept = call_card.call_cards_of(desk, other.reference)[0].numbers
    assert card.numbers[0].value in [number.value for number in kept]


def test_no_answer_in_the_morning_puts_the_person_at_the_end_with_the_hour(
    app: DeskApp, desk: Desk
) -> None:
    card = first_to_ring(desk)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("1")
        assert "ring once more in the afternoon" in driver.words
        assert calls(driver).row_list.numbers[-1] == card.follow_up
        await driver.press("end")
        row = calls(driver).row
        assert row is not None and row.follow_up == card.follow_up
        assert "at 14:00" in driver.words

    drive(app, steps)


def test_call_again_takes_the_day_and_the_hour_in_one_field(app: DeskApp, desk: Desk) -> None:
    card = first_to_ring(desk)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("6")
        await driver.type("thu 3")
        assert "Thursday 10 September 2026 at 15:00." in driver.words
        await driver.press("tab")
        await driver.type("after school")
        await driver.press("ctrl+s")
        assert "Next, Thursday 10 September 2026, 15:00" in driver.words
        assert card.follow_up not in calls(driver).row_list.numbers

    drive(app, steps)

    kept = call_card.call_cards_of(desk, card.reference)[0]
    assert kept.numbers[0].best_time == "after school"
    assert kept.next.startswith("Promised for 10 September 2026, 15:00")


def test_a_home_is_one_line_and_its_people_come_one_after_another(app: DeskApp, desk: Desk) -> None:
    cards = call_card.call_cards(desk, call_card.order(desk)[:40])
    home = [card for card in cards if card.step == "phone" and card.numbers][:3]
    for card in home:
        point = ContactPoint("phone", "01632 960987", label="Teasel House", safe="only_this")
        add_contact_point(desk, card.reference, point)

    async def steps(driver: Driver) -> None:
        await take(driver, home[0])
        shown = calls(driver).row_list.numbers
        assert not {card.follow_up for card in home[1:]} & set(shown)
        assert "+2" in driver.words and f"Here too {home[1].name}" in driver.words
        for card in home:
            row = calls(driver).row
            assert row is not None and row.follow_up == card.follow_up
            await driver.press("2")
        row = calls(driver).row
        assert row is not None and row.follow_up not in {card.follow_up for card in home}
        assert len(calls(driver).row_list.numbers) == len(shown) - 1

    drive(app, steps)

    assert stored(desk) == [(card.follow_up, "phone", "left_message") for card in home]


def test_that_nobody_answered_counts_for_all_under_the_number_and_is_taken_back_as_one(
    app: DeskApp, desk: Desk
) -> None:
    cards = call_card.call_cards(desk, call_card.order(desk)[:40])
    home = [card for card in cards if card.step == "phone" and card.numbers][:3]
    for card in home:
        point = ContactPoint("phone", "01632 960987", label="Teasel House", safe="only_this")
        add_contact_point(desk, card.reference, point)

    async def steps(driver: Driver) -> None:
        await take(driver, home[0])
        await driver.press("1")
        assert "The same for 2 more on this number." in driver.words
        row = calls(driver).row
        assert row is not None and row.follow_up not in {card.follow_up for card in home}
        assert len(stored(desk)) == 3
        heads = calls(driver).row_list.numbers
        assert heads.index(row.follow_up) < min(
            heads.index(n) for n in heads if n in {card.follow_up for card in home}
        )
        await driver.press("u")
        assert stored(desk) == []
        await driver.press("right", "0")
        assert "it is struck for all" in driver.words
        await driver.press("escape", "z")
        assert "Not here any more" in driver.words

    drive(app, steps)


def test_after_somebody_at_the_end_the_work_goes_on_where_it_was(app: DeskApp, desk: Desk) -> None:
    cards = call_card.call_cards(desk, [line[0].follow_up for line in call_lines.call_lines(desk)])
    # Somebody with one thing open: an appointment meets it, and nothing is left to offer.
    alone = next(
        card for card in cards if card.numbers and len(person(desk, card.reference).follow_ups) == 1
    )

    async def steps(driver: Driver) -> None:
        await take(driver, alone)
        await driver.press("1")
        here = calls(driver).row
        assert here is not None and here.hour is None
        await driver.press("end")
        last = calls(driver).row
        assert last is not None and last.follow_up == alone.follow_up and last.hour is not None
        await driver.press("b")
        await driver.type("+9 8.05")
        await driver.press("ctrl+s")
        assert driver.where == "QueueScreen", driver.text
        row = calls(driver).row
        assert row is not None and row.follow_up == here.follow_up

    drive(app, steps)


def test_the_lines_stay_within_the_width(app: DeskApp, desk: Desk) -> None:
    cards = call_card.call_cards(desk, call_card.order(desk)[:40])
    for card in cards[:12]:
        add_contact_point(desk, card.reference, ContactPoint("phone", "01632 960987"))

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        for line in driver.lines:
            assert len(line.rstrip()) <= 80

    drive(app, steps, (80, 24))


def without_a_number(desk: Desk) -> call_card.CallCard:
    cards = call_card.call_cards(desk, call_card.order(desk))
    return next(card for card in cards if not card.numbers and card.step == "address_check")


async def come_to(driver: Driver, card: call_card.CallCard) -> None:
    """Bring somebody of the list of calls in hand."""
    await driver.press("f3")
    row_list = calls(driver).row_list
    row_list.mark(row_list.numbers.index(card.follow_up))
    await driver.settle()


def test_an_outcome_of_a_call_to_nobody_is_refused_before_anything_is_typed(
    app: DeskApp, desk: Desk
) -> None:
    card = without_a_number(desk)

    async def steps(driver: Driver) -> None:
        await come_to(driver, card)
        for key in ("1", "6", "z"):
            await driver.press(key)
            assert driver.where == "QueueScreen", key
            assert "was NOT recorded. No number is recorded" in driver.words
        await driver.press("v", "v")
        assert calls(driver).channel == "email"
        await driver.press("9")
        assert "NOT recorded" not in driver.words

    drive(app, steps)

    assert stored(desk) == [(card.follow_up, "email", "message_sent")]


def test_what_is_told_at_the_counter_is_taken_down_for_whoever_has_no_number(
    app: DeskApp, desk: Desk
) -> None:
    card = without_a_number(desk)

    async def steps(driver: Driver) -> None:
        await come_to(driver, card)
        await driver.press("h")
        assert driver.where == "Form" and "NOT recorded" not in driver.words
        await driver.press("ctrl+s")

    drive(app, steps)

    (made,) = rows(desk.store, tables.Contact, follow_up_id=card.follow_up)
    assert (made["outcome"], made["by_them"]) == ("in_hospital", True)


def test_what_was_refused_is_gone_with_the_next_thing_that_is_stored(
    app: DeskApp, desk: Desk
) -> None:
    cards = call_card.call_cards(desk, call_card.order(desk))
    card = next(card for card in cards if not card.numbers and card.step == "address_check")

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        row_list = calls(driver).row_list
        row_list.mark(row_list.numbers.index(card.follow_up))
        await driver.settle()
        await driver.press("1")
        assert "NOT recorded" in driver.words
        await driver.press("n")
        await driver.type("asked next door")
        await driver.press("ctrl+s")
        assert driver.where == "QueueScreen" and "NOT recorded" not in driver.words
        await driver.press("1")
        assert "NOT recorded" in driver.words
        await driver.press("c")
        assert "NOT recorded" not in driver.words

    drive(app, steps)
