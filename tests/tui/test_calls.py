"""A reception's hour at the call list, by keys, on a real register."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.oversight.counts import counts
from recall.desk.people import editing, person_card
from recall.desk.worklists import call_card
from recall.desk.worklists.call_card import CallCard
from recall.desk.worklists.lists import for_clinician
from recall.protocol.contact_steps import STEP
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.calls.card import call_card as card_lines
from tui.commands.outcomes import KEYED_OUTCOMES
from tui.screens.queue import QueueScreen


def calls(driver: Driver) -> QueueScreen:
    """Return the call list that is open."""
    screen = driver.app.screen
    assert isinstance(screen, QueueScreen)
    return screen


def test_an_hour_of_calls(app: DeskApp, desk: Desk) -> None:
    """Outcomes in a row: each is stored, and the next person comes by itself.

    Whoever has no number cannot have been rung: they are passed over, and nothing is stored.
    """
    keyed = [outcome for outcome in KEYED_OUTCOMES if outcome.id in EASY]
    before = len(call_card.order(desk))
    many = before - 3
    assert many > 20
    wanted: list[tuple[int, str, str]] = []
    passed: list[int] = []

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        for n in range(many):
            outcome = keyed[n % len(keyed)]
            while (row := calls(driver).row) is not None and not row.numbers:
                await refused_for_no_number(driver, outcome.key)
                passed.append(row.follow_up)
                await driver.press("down")
            left = len(calls(driver).lines.people)
            assert row is not None
            assert row.name in driver.words or "…" in driver.words
            alike = calls(driver).lines.others(row.follow_up) if outcome.comes_back else ()
            wanted.extend((each, "phone", outcome.id) for each in (*alike, row.follow_up))
            await driver.press(outcome.key)
            assert len(calls(driver).lines.people) <= left
        assert calls(driver).done_today == len(wanted) >= many

    drive(app, steps)

    assert passed
    assert stored(desk) == wanted
    assert len(call_card.order(desk)) < before


async def refused_for_no_number(driver: Driver, key: str) -> None:
    """Press a key of a call to somebody without a number: it says so, and nobody else comes."""
    held, done = calls(driver).row_list.number, calls(driver).done_today
    await driver.press(key)
    assert "NOT recorded. No number is recorded, so nobody can be rung" in driver.words
    assert (calls(driver).row_list.number, calls(driver).done_today) == (held, done)


EASY = {
    "no_answer",
    "left_message",
    "identity_not_confirmed",
    "will_call_back",
    "wants_letter",
    "message_sent",
}
"""Outcomes that ask for nothing more."""


def stored(desk: Desk) -> list[tuple[int, str, str]]:
    """Return today's contacts of the reception: follow-up, channel, outcome."""
    from sqlalchemy import select

    from recall.records.tables import Contact, Staff

    with desk.store.read() as session:
        wanted = (
            select(Contact.follow_up_id, Contact.channel, Contact.outcome)
            .join(Staff, Staff.id == Contact.by_id)
            .where(Contact.on == desk.today, Contact.void_at.is_(None), Staff.handle == "thackray")
            .where(Contact.recorded_at >= desk.now)
            .order_by(Contact.id)
        )
        return [tuple(row) for row in session.execute(wanted)]


def test_every_outcome_has_a_key_and_is_stored(app: DeskApp, desk: Desk) -> None:
    """Each key of the table records its own outcome, for the person that was in hand."""
    expected: list[tuple[int, str, str]] = []
    died: list[str] = []

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        for each in KEYED_OUTCOMES:
            outcome, key = each.id, each.key
            row = await whom_to_ring(driver, unrung=each.needs_no_number)
            if outcome != "died":
                expected.append((row.follow_up, "phone", outcome))
            await driver.press(key)
            if driver.where == "Form":
                if outcome in ("do_not_contact", "not_safe"):
                    await driver.type(row.family_name)
                if outcome == "died":
                    await driver.type(row.name)
                    await driver.press("tab", *"7/9")
                    died.append(row.reference)
                await driver.press("ctrl+s")
                await driver.press(*["ctrl+s"] * ("after the latest day" in driver.words))
            if driver.where == "HandOver":
                await driver.press("escape")
                await driver.press("down")
            assert driver.where == "QueueScreen", f"{outcome}: {driver.text}"

    drive(app, steps)

    assert stored(desk) == expected
    (dead,) = died
    assert (person_card.person(desk, dead).contact_stopped or "").startswith("has died")


async def whom_to_ring(driver: Driver, *, unrung: bool) -> CallCard:
    """Go on to somebody who is not left alone and, unless it needs none, has a number."""
    for key in (*["down"] * 30, "home", *["down"] * 30):
        row = calls(driver).row
        if row is not None and (row.numbers or unrung) and not row.contact_stopped:
            return row
        await driver.press(key)
    raise AssertionError("nobody is left who can be rung")


@pytest.mark.parametrize(("key", "said"), [("o", "nothing was recorded"), ("x", "is not that of")])
def test_what_stops_contact_is_not_recorded_by_a_slip(
    key: str, said: str, app: DeskApp, desk: Desk
) -> None:
    """Without the name nothing is recorded, and what was typed stays."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3", key)
        await driver.type("somebody")
        await driver.press(*(("tab", *"7/9") if key == "x" else ()), "ctrl+s")
        assert driver.where == "Form"
        assert said in driver.words
        assert "somebody" in driver.words
        await driver.press("escape", "escape")
        assert driver.where == "QueueScreen"

    drive(app, steps)

    assert stored(desk) == []


def test_whoever_may_not_be_contacted_has_nothing_to_say(app: DeskApp) -> None:
    """Somebody who has died is looked at by a clinician: nobody is asked for, nothing is said."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        row = calls(driver).row
        assert row is not None
        gone = replace(row, contact_stopped="has died", warnings=("Do not contact: has died.",))
        words = " ".join(line.plain for line in card_lines(gone, row.born, 60))
        assert "Do not contact: has died." in words
        assert "Ask for" not in words
        assert "Say" not in words
        assert "Ask for" in " ".join(line.plain for line in card_lines(row, row.born, 60))

    drive(app, steps)


def test_what_is_asked_is_asked_while_they_are_there(app: DeskApp, desk: Desk) -> None:
    """The question stands on a sheet, and the answer is kept with the person it is about."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        row = calls(driver).row
        assert row is not None
        await driver.press("e")
        assert "Where, when, and may we ask for the result?" in driver.words
        assert row.name in driver.words
        await driver.type("at the hospital, in May")
        await driver.press("ctrl+s")
        assert calls(driver).done_today == 1
        assert stored(desk) == [(row.follow_up, "phone", "seen_elsewhere")]

    drive(app, steps)


def test_undo_takes_back_after_moving_on(app: DeskApp, desk: Desk) -> None:
    """The person comes back into hand, and the contact no longer counts."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        first = calls(driver).row_list.number
        await driver.press("1", "down", "down", "u")
        assert calls(driver).row_list.number == first
        assert calls(driver).done_today == 0
        row = calls(driver).row
        assert row is not None
        assert f"{row.name}, born" in driver.words

    drive(app, steps)

    assert stored(desk) == []


def test_what_was_done_elsewhere_is_asked_about_before_it_is_taken_back(
    app: DeskApp, practice: Path, desk: Desk
) -> None:
    """The last thing was done about somebody who is not before one's eyes."""
    number = call_card.order(desk)[20]
    (elsewhere,) = call_card.call_cards(desk, [number])

    async def steps(driver: Driver) -> None:
        await driver.press("f3", "1")
        other = opening(practice)
        contacting.log_contact(other, number, None, Attempt("phone", "left_message"))
        other.close()
        await driver.press("u")
        assert driver.where == "Ask"
        assert f"{elsewhere.name}, born" in driver.words
        await driver.press("escape")
        assert len(stored(desk)) == 2
        await driver.press("u", "y")
        assert len(stored(desk)) == 1

    drive(app, steps)


def test_what_was_done_before_the_calls_were_opened_is_asked_about(
    app: DeskApp, desk: Desk, practice: Path
) -> None:
    """Nothing was done here yet, and what was done last is about no follow-up: still a question."""
    someone = call_card.call_cards(desk, call_card.order(desk)[:1])[0].reference
    other = opening(practice)
    editing.edit_needs(other, someone, None, needs=("hearing loop",))
    other.close()

    async def steps(driver: Driver) -> None:
        await driver.press("f3", "u")
        assert driver.where == "Ask"
        await driver.press("escape")

    drive(app, steps)

    assert person_card.person(desk, someone).needs == ("hearing loop",)


def test_what_happens_next_is_said_with_its_day(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "1")
        assert "Next, today, 14:00" in driver.words
        await driver.press("5")
        assert "Next, Monday 14 September 2026" in driver.words

    drive(app, steps)


def test_worse_keeps_the_caller_in_hand(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        first = calls(driver).row_list.number
        await driver.press("w")
        assert driver.where == "HandOver"
        assert "clinician now" in driver.words
        assert "It is recorded" in driver.words
        await driver.rest()  # the list behind the sheet does not go on meanwhile
        await driver.press("escape")
        assert calls(driver).row_list.number == first
        assert "urgent" in driver.words
        before = calls(driver).done_today
        await driver.press("1", "9", "8")
        assert "was NOT recorded" in driver.words and "is with a clinician now" in driver.words
        assert calls(driver).row_list.number == first
        await driver.press("down", "1")
        assert calls(driver).done_today == before + 1

    drive(app, steps)


def test_booking_by_keys(app: DeskApp, desk: Desk) -> None:
    """A day and a time, Enter from field to field, and it is booked and logged."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3", "b")
        assert driver.where == "Form"
        assert "With osei, quill; empty: nobody in particular" in driver.words
        await driver.type("+3 9.30")
        await driver.press("enter", "enter")
        await driver.type("Quill")
        await driver.press("enter", "ctrl+u")
        await driver.type("first day that they can")
        await driver.press("enter", "enter")
        assert driver.where == "QueueScreen", driver.text
        assert "Booked for Thursday 10 September 2026 at 09:30 with quill." in driver.words

    drive(app, steps)

    assert [outcome for _number, _channel, outcome in stored(desk)] == ["booked"]


def test_a_note_and_a_skip_with_its_reason(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        left = len(calls(driver).row_list.numbers)
        await driver.press("n")
        await driver.type("hard of hearing, speak slowly")
        await driver.press("enter")
        assert "Noted." in driver.words
        await driver.press("s", "ctrl+s")
        assert "Nothing is written yet under “Why”." in driver.words
        await driver.type("line engaged")
        await driver.press("ctrl+s")
        assert "Held back: line engaged" in driver.words
        assert len(calls(driver).row_list.numbers) == left - 1

    drive(app, steps)


def test_each_person_has_one_line_whatever_is_open_for_them(desk: Desk) -> None:
    cards = call_card.call_cards(desk, call_card.order(desk))
    people = {each.reference for each in cards}
    assert len(cards) == len(people)
    assert any(len(call_card.call_cards_of(desk, ref)) > 1 for ref in people)
    assert {STEP[each.step].who for each in cards} == {"reception"}


def test_the_lost_are_the_managers_and_the_counts_agree(desk: Desk) -> None:
    """As many are left in Calls as Today counts: nobody who is lost is there to be rung."""
    today = counts(desk).by_step

    assert today is not None and today.lost > 0
    assert len(call_card.order(desk)) == today.to_reach
    assert today.clinician == len(for_clinician(desk)) > 0


def test_a_claim_shows_at_another_desk_and_stops_it(app: DeskApp, practice: Path) -> None:
    other = opening(practice, "lund")
    number = call_card.order(other)[0]
    contacting.claim(other, number)
    other.close()

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        assert calls(driver).row_list.number != number  # the next one whom nobody holds
        await driver.press("up")
        assert calls(driver).row_list.number == number
        assert "With lund" in driver.words
        for key in ("b", "s", "6", "0"):
            await driver.press(key)
            assert driver.where == "QueueScreen", key
            assert "was not taken up. With lund" in driver.words
        await driver.press("n")  # a note hinders nobody
        assert driver.where == "Form"
        await driver.press("escape", "1")
        assert "lund has follow-up" in driver.words
        assert calls(driver).done_today == 0

    drive(app, steps)


def test_another_desk_was_first(app: DeskApp, practice: Path) -> None:
    """A version that is no longer the last: a sentence, the list read again, nothing stored."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        await driver.rest()  # the person in hand is claimed, which is drawn,
        await driver.rest()  # and was read anew, and will not be by itself
        row = calls(driver).row
        assert row is not None
        other = opening(practice, "lund")
        theirs = Attempt("phone", "will_call_back", by_them=True)  # who is held may still ring us
        contacting.log_contact(other, row.follow_up, row.version, theirs)
        other.close()
        await driver.press("2")
        assert "Somebody else changed follow up" in driver.words
        assert row.follow_up not in calls(driver).row_list.numbers
        assert f"{row.name}, “Left a message" in driver.words
        assert "Somebody else is in hand now" in driver.words
        await driver.press("r")
        assert "NOT recorded" in driver.words

    drive(app, steps)
