"""What somebody has to see to: passed on from the person in hand, seen on F8, closed by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from recall.desk.core.session import Desk
from recall.desk.practice.matters import close
from recall.desk.worklists.matter_list import matters
from tests.tui.conftest import opening
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
        assert "A message, clinicians" in driver.words

    drive(app, steps)

    (row,) = matters(desk, everybody=True)
    assert (row.text, row.kind, row.owner) == (AWKWARD, "message", "clinicians")


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
        await driver.press("a", "d")
        await driver.type("said sorry")
        await driver.press("ctrl+s")
        assert "is for manager, not thackray" in driver.words
        await driver.press("escape", "escape")

    drive(app, steps)

    assert [row.kind for row in matters(desk, everybody=True)] == ["complaint"]


def test_an_answer_is_typed_first_and_seen_by_whoever_took_the_message(
    app: DeskApp, desk: Desk, practice: Path
) -> None:
    """The sheets that ask for words begin there: at a list of answers they would be kept nowhere.

    Whichever close is chosen the answer is seen, a week long; `d` on it says that it is closed.
    """

    async def steps(driver: Driver) -> None:
        await driver.press("f3", "p", "4")
        await driver.type("May he swim?")
        await driver.press("ctrl+s", "f8")
        (row,) = matters(desk, everybody=True)
        clinician = opening(practice, "osei")
        close(clinician, row.number, "answered", "Not before the hole is shut.")
        clinician.close()
        await driver.press("r")
        assert "0 matters for thackray, 0 late. 1 of yours answered this week." in driver.words
        assert "answered A message" in driver.words
        assert "osei, 7 Sep 2026, answered by whoever saw to it: Not before" in driver.words
        await driver.press("d")
        assert driver.where == "MattersScreen" and "It is closed: osei" in driver.words

    drive(app, steps)


def test_what_somebody_told_on_the_telephone_is_typed_first(app: DeskApp, desk: Desk) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "enter", "l", "8")
        assert driver.where == "Form"
        await driver.type("may he swim?")
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen", driver.text
        await driver.press("4")
        assert "may he swim?" in driver.words

    drive(app, steps)
