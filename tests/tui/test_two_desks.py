"""Another desk was first while a sheet was typed: that is said, and nothing typed is lost."""

from __future__ import annotations

from pathlib import Path

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.records import tables
from tests.desk.practice import rows
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tests.tui.test_calls import stored
from tests.tui.test_numbers import first_to_ring, take
from tui.app import DeskApp


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
