"""Another desk was first while a sheet was typed: that is said, and nothing typed is lost."""

from __future__ import annotations

from pathlib import Path

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.people.editing import edit_details
from recall.desk.people.person_card import person
from recall.desk.referrals import progress
from recall.desk.worklists import lists
from recall.desk.worklists.referral_list import referrals
from recall.records import tables
from tests.desk.practice import rows
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tests.tui.test_calls import stored
from tests.tui.test_numbers import first_to_ring, take
from tui.app import DeskApp
from tui.screens.manager import ManagerScreen


def test_a_booking_goes_on_with_what_the_other_desk_did(
    app: DeskApp, desk: Desk, practice: Path
) -> None:
    card = first_to_ring(desk)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("b")
        await driver.type("15/9 10")
        other = opening(practice, "lund")
        theirs = Attempt("phone", "will_call_back", by_them=True)
        contacting.log_contact(other, card.follow_up, None, theirs)
        other.close()
        await driver.press("ctrl+s")
        assert driver.where == "Form"
        assert "(lund: Spoke: will call back)" in driver.words
        assert "15/9 10" in driver.words
        assert "Ctrl+S once more stores it all the same" in driver.words
        assert stored(desk) == []
        await driver.press("ctrl+s")
        assert driver.where == "QueueScreen", driver.text

    drive(app, steps)

    assert len(rows(desk.store, tables.Booking, follow_up_id=card.follow_up)) >= 1
    assert [outcome for _number, _channel, outcome in stored(desk)] == ["booked"]


def test_what_was_changed_twice_is_said_twice(app: DeskApp, desk: Desk, practice: Path) -> None:
    card = first_to_ring(desk)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        await driver.press("s")
        await driver.type("line engaged")
        other = opening(practice, "lund")
        for outcome in ("will_call_back", "wants_letter"):
            theirs = Attempt("phone", outcome, by_them=True)
            contacting.log_contact(other, card.follow_up, None, theirs)
            await driver.press("ctrl+s")
            assert "line engaged" in driver.words
        assert "Would like a letter first" in driver.words
        other.close()
        await driver.press("ctrl+s")
        assert driver.where == "QueueScreen", driver.text

    drive(app, steps)

    held = rows(desk.store, tables.FollowUpEvent, follow_up_id=card.follow_up, what="held")
    assert [each["why"] for each in held] == ["line engaged"]


async def find(driver: Driver, ref: str) -> None:
    """Open one person."""
    await driver.press("f4")
    await driver.type(ref)
    await driver.press("enter")
    assert driver.where == "PersonScreen", driver.text


def test_what_they_need_keeps_what_both_desks_typed(
    app: DeskApp, desk: Desk, practice: Path
) -> None:
    """One sheet holds four details: what was not touched in it stays as the other desk left it."""
    ref = first_to_ring(desk).reference

    async def steps(driver: Driver) -> None:
        await find(driver, ref)
        await driver.press("n", "tab", "tab")
        await driver.type("step-free room")
        other = opening(practice, "lund")
        edit_details(other, ref, None, caller_note="ring twice, she is slow", language="cy")
        other.close()
        await driver.press("ctrl+s")
        assert driver.where == "Form"
        assert "(lund: Changed: language, the note before contact. " in driver.words
        assert "step-free room" in driver.words
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen", driver.text

    drive(app, steps, (120, 40))

    now = person(desk, ref)
    assert (now.needs[-1], now.language) == ("step-free room", "cy")
    assert now.caller_note == "ring twice, she is slow"


def test_a_name_is_put_right_after_another_desk_changed_something_else(
    app: DeskApp, desk: Desk, practice: Path
) -> None:
    ref = first_to_ring(desk).reference

    async def steps(driver: Driver) -> None:
        await find(driver, ref)
        await driver.press("w")
        await driver.type("x")
        other = opening(practice, "lund")
        edit_details(other, ref, None, gp="Mill Surgery, Dr Sorrel")
        other.close()
        await driver.press("ctrl+s")
        assert driver.where == "Form" and "(lund: Changed: GP)" in driver.words
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen", driver.text

    was = person(desk, ref)
    drive(app, steps, (120, 40))

    now = person(desk, ref)
    assert (now.family_name, now.gp) == (f"{was.family_name}x", "Mill Surgery, Dr Sorrel")


def test_a_referral_s_sheet_goes_on_with_what_the_other_desk_did(
    app: DeskApp, desk: Desk, practice: Path
) -> None:
    app._opening = lambda: opening(practice, "quill")
    first = referrals(desk)[0]

    async def steps(driver: Driver) -> None:
        await driver.press("f6", "3")
        screen = driver.app.screen
        assert isinstance(screen, ManagerScreen)
        screen.row_list.mark(screen.row_list.numbers.index(first.referral_id))
        await driver.settle()
        await driver.press("p")
        await driver.type("Dr Sorrel")
        other = opening(practice, "quill")
        progress.carry_on(other, first.referral_id, None, "asked their office again")
        other.close()
        await driver.press("ctrl+s")
        assert driver.where == "Form", driver.text
        assert "Somebody else changed referral" in driver.words and "quill: " in driver.words
        assert "Dr Sorrel" in driver.words
        await driver.press("ctrl+s")
        assert driver.app.screen is screen, driver.text

    drive(app, steps, (120, 40))

    events = rows(desk.store, tables.ReferralEvent, referral_id=first.referral_id)
    assert "Dr Sorrel" in [each["spoke_with"] for each in events]
    assert "decided" in [each["what"] for each in events]


def test_a_decision_goes_on_with_what_the_other_desk_did(
    app: DeskApp, desk: Desk, practice: Path
) -> None:
    app._opening = lambda: opening(practice, "quill")
    first = lists.overdue(desk)[0]
    assert first.follow_up_id is not None

    async def steps(driver: Driver) -> None:
        await driver.press("f6", "c")
        await driver.type("coming next week")
        other = opening(practice, "lund")
        theirs = Attempt("phone", "will_call_back", by_them=True)
        contacting.log_contact(other, first.follow_up_id or 0, None, theirs)
        other.close()
        await driver.press("ctrl+s")
        assert "(lund: Spoke: will call back)" in driver.words
        await driver.press("ctrl+s")
        assert driver.where == "ManagerScreen", driver.text

    drive(app, steps, (120, 40))

    done = rows(desk.store, tables.FollowUpEvent, follow_up_id=first.follow_up_id)
    assert [each["why"] for each in done if each["what"] == "carry_on"] == ["coming next week"]
