"""What somebody has to see to: passed on from the person in hand, seen on F8, closed by name."""

from __future__ import annotations

import pytest

from recall.desk.core.session import Desk
from recall.desk.worklists.matter_list import matters
from tests.tui.driving import Driver, drive
from tui.app import DeskApp

AWKWARD = "O'Neil [/b] مريم Llŷr 👂 {0}"


@pytest.mark.parametrize("begin", [("f3",), ("f3", "enter")])
def test_a_message_is_passed_on_from_the_person_in_hand_by_keys(
    begin: tuple[str, ...], app: DeskApp, desk: Desk
) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press(*begin, "p", "4")
        assert "a message is too slow" in driver.words
        await driver.type(AWKWARD)
        await driver.press("ctrl+s")
        await driver.press("f8", "a")
        assert "1 matter everybody's, 0 late." in driver.words
        assert "O'Neil" in driver.words
        await driver.press("enter")
        assert driver.where == "PersonScreen"
        assert "A message, practitioner" in driver.words

    drive(app, steps)

    (row,) = matters(desk, everybody=True)
    assert (row.text, row.kind, row.owner) == (AWKWARD, "message", "practitioner")


def test_a_name_that_nobody_has_is_said_when_it_is_given(app: DeskApp, desk: Desk) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f8", "n", "3")
        await driver.type("The floor is wet")
        await driver.press("enter", "enter")
        await driver.type("quil")
        await driver.press("up")
        assert "There is no member of staff 'quil'" in driver.words
        await driver.press("down", "backspace", "backspace", "backspace", "backspace")
        await driver.type("manager")
        await driver.press("up")
        assert "no member of staff" not in driver.words
        await driver.press("ctrl+s")

    drive(app, steps)

    (row,) = matters(desk, everybody=True)
    assert (row.owner, row.reference) == ("manager", "")


def test_one_closes_ones_own_by_name_and_others_are_refused(app: DeskApp, desk: Desk) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "p", "1")
        await driver.type("Polish, by telephone")
        await driver.press("ctrl+s", "f8")
        assert "1 matter for" in driver.words
        await driver.press("d", "ctrl+s")
        assert "An interpreter to book: booked." in driver.words
        await driver.press("f3", "p", "2")
        await driver.type("Was left waiting for an hour")
        await driver.press("ctrl+s", "f8")
        assert "0 matters for" in driver.words
        await driver.press("a", "d", "enter")
        await driver.type("said sorry")
        await driver.press("enter")
        assert "is for manager, not thackray" in driver.words
        await driver.press("escape", "escape")

    drive(app, steps)

    assert [row.kind for row in matters(desk, everybody=True)] == ["complaint"]
