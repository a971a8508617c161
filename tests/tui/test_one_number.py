"""Several people under one number: each comes in hand, and then the work goes on where it was."""

from __future__ import annotations

from pathlib import Path

import pytest

from recall.desk.contacts import contacting
from recall.desk.core.session import Desk
from recall.desk.worklists import call_card
from recall.desk.worklists.call_lines import call_lines
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tests.tui.test_in_hand import calls
from tui.app import DeskApp


@pytest.fixture
def under(desk: Desk) -> list[int]:
    """The people on one number, of whom the last presses less than others do."""
    order = list(call_card.order(desk))
    lines = [[one.follow_up for one in line] for line in call_lines(desk)]
    return next(p for p in lines if order.index(p[-1]) >= order.index(p[0]) + len(p))


def test_after_the_last_under_a_number_the_work_goes_on_where_it_was(
    app: DeskApp, under: list[int]
) -> None:
    first, *others = under

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        listed = calls(driver).row_list
        listed.mark(listed.numbers.index(first))
        await driver.rest()
        place, after = listed.marked, listed.numbers[listed.marked + 1]
        for one in others:
            await driver.press("7")
            assert listed.number == one, driver.text
            calls(driver).refill()  # as it is by itself within seconds
            await driver.rest()
            assert (listed.number, listed.marked) == (one, place)
        await driver.press("7")
        await driver.rest()
        assert listed.number == after, driver.text

    drive(app, steps)


def test_after_the_last_line_nobody_comes_in_hand_whom_another_desk_holds(
    app: DeskApp, practice: Path, desk: Desk
) -> None:
    lines = [[one.follow_up for one in line] for line in call_lines(desk)]
    other = opening(practice, "lund")
    contacting.claim(other, lines[0][0])
    other.close()

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        await driver.rest()
        await driver.press("end")
        await driver.rest()
        last = calls(driver).row_list.number
        await driver.press("1")
        if driver.where == "Form":
            await driver.press("escape")
        await driver.rest()
        await driver.rest()
        now = calls(driver).row
        assert now is not None and now.follow_up != last, driver.text
        assert now.claim_by != "lund", driver.text

    drive(app, steps)


@pytest.mark.parametrize("keys", ["5", "b"])
def test_what_was_agreed_about_one_stands_on_whoever_else_is_under_the_number(
    app: DeskApp, desk: Desk, under: list[int], keys: str
) -> None:
    """In the list, in what to do now, and on the page of each, whether to be rung or not."""
    first, *others = under

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        listed = calls(driver).row_list
        listed.mark(listed.numbers.index(first))
        await driver.rest()
        came = await agree(driver, keys)
        if listed.number not in others:  # something else of theirs is offered
            await driver.press("down")
        assert listed.number in others, driver.text
        assert came in driver.words.split("Now ")[1], driver.text
        assert "! Today Spoke with" in driver.words, driver.text
        await driver.press("enter")
        assert driver.where == "PersonScreen"
        assert came in driver.words, driver.text

    async def agree(driver: Driver, key: str) -> str:
        await driver.press(key)
        if key == "b":
            await driver.type("15/9 10")
            await driver.press("ctrl+s")
            if driver.where == "Form":
                await driver.press("ctrl+s")
        await driver.rest()
        return {"5": "will call back", "b": "booked"}[key]

    drive(app, steps)
