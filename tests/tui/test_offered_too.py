"""What an appointment does not meet is offered in the same call."""

from __future__ import annotations

from recall.desk.core.session import Desk
from recall.desk.worklists import call_lines
from tests.desk.practice import FLUID, later, open_follow_ups, somebody, visit
from tests.desk.test_per_person import WAX
from tests.tui.driving import Driver, drive
from tests.tui.test_calls import calls, stored
from tui.app import DeskApp
from tui.calls.queueing import OFFER_TOO


def test_who_has_something_else_due_stays_in_hand_with_it(app: DeskApp, desk: Desk) -> None:
    person = somebody(desk, "T1")
    visit(later(desk, -14), person, right=FLUID, left=WAX)

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        rows = calls(driver).row_list
        (mine,) = (n for n in call_numbers(desk) if n in numbers_of(desk, person))
        rows.mark(rows.numbers.index(mine))
        await driver.settle()
        name = calls(driver).row.name if calls(driver).row else ""
        await driver.press("b", *"+1 10", "ctrl+s")
        assert "offer another day now" in driver.words and OFFER_TOO in driver.words
        row = calls(driver).row
        assert row is not None and (row.name, row.follow_up != mine) == (name, True)
        await driver.press("b", *"+22 10", "ctrl+s")
        after = calls(driver).row
        assert OFFER_TOO not in driver.words and after is not None and after.name != name

    drive(app, steps)

    assert [outcome for _number, _channel, outcome in stored(desk)] == ["booked", "booked"]


def test_after_what_is_offered_too_the_work_goes_on_where_it_was(app: DeskApp, desk: Desk) -> None:
    someone = somebody(desk, "T1")
    visit(later(desk, -14), someone, right=FLUID, left=WAX)
    (mine,) = (n for n in call_numbers(desk) if n in numbers_of(desk, someone))

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        rows = calls(driver).row_list
        rows.mark(rows.numbers.index(mine))
        await driver.settle()
        await driver.press("1", "home", "down", "down")
        here, before = rows.number, rows.marked
        await driver.press("end")
        assert rows.number == mine
        await driver.press("b", *"+1 10", "ctrl+s")
        assert OFFER_TOO in driver.words and rows.marked == before
        await driver.press("down")
        assert rows.number == here

    drive(app, steps)


def test_who_is_offered_something_else_stands_before_who_comes_next(
    app: DeskApp, desk: Desk
) -> None:
    someone = somebody(desk, "T1")
    visit(later(desk, -14), someone, right=FLUID, left=WAX)
    (mine,) = (n for n in call_numbers(desk) if n in numbers_of(desk, someone))

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        rows = calls(driver).row_list
        rows.mark(rows.numbers.index(mine) - 1)
        await driver.press("down")
        place, after = rows.marked, rows.numbers[rows.marked + 1]
        assert rows.number == mine and place > 0
        await driver.press("b", *"+1 10", "ctrl+s")
        assert OFFER_TOO in driver.words and rows.marked == place
        await driver.press("down")
        assert rows.number == after

    drive(app, steps)


def call_numbers(desk: Desk) -> list[int]:
    return [one.follow_up for line in call_lines.call_lines(desk) for one in line]


def numbers_of(desk: Desk, person: int) -> set[int]:
    return {row["id"] for row in open_follow_ups(desk.store, person)}
