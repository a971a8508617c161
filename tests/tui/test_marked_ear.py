"""Which ear is marked: the keys that lead to the other one, and the sign that shows it."""

from __future__ import annotations

import pytest

from recall.care.ear import SIDES
from recall.desk.core.session import Desk
from tests.desk.practice import somebody
from tests.tui.driving import Driver, drive
from tests.tui.test_visits import ADULT, REF, begin
from tui.app import DeskApp
from tui.widgets.ear_grid import MARK

SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


def marked_ears(driver: Driver) -> list[str]:
    """Which ears the sign stands before, in the line of the marked finding."""
    (line,) = [each for each in driver.lines if each.startswith((f" {MARK}", MARK))]
    edges = [sign for sign in line[3:74] if sign in (MARK, "│")][:2]
    return [side for side, sign in zip(SIDES, edges, strict=True) if sign == MARK]


@SIZES
def test_tab_leads_to_the_other_ear_and_back(
    clinician: DeskApp, desk: Desk, size: tuple[int, int]
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        for expected in ("left", "right", "left"):
            await driver.press("tab")
            assert screen.grid.side == expected
            assert marked_ears(driver) == [expected]

    drive(clinician, steps, size)


def test_what_is_typed_after_tab_goes_into_the_other_ear(clinician: DeskApp, desk: Desk) -> None:
    """An ear that was just cleared must not take what was found in the other one."""
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("e", "1", "0", "3")
        assert screen.form is not None
        cleared = screen.form.right
        await driver.press("home", "tab", "3", "1")
        assert screen.form.right == cleared
        assert (screen.form.left.wax_found, screen.form.left.clearance) == ("occluding", "failed")

    drive(clinician, steps)


@pytest.mark.parametrize("key", ["tab", "right"])
def test_a_move_typed_fast_keeps_its_turn_among_the_digits(
    clinician: DeskApp, desk: Desk, key: str
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.burst("1", key, "home", "3", "1")
        assert screen.form is not None
        assert (screen.form.right.wax_found, screen.form.right.clearance) == ("some", None)
        assert (screen.form.left.wax_found, screen.form.left.clearance) == ("occluding", "failed")

    drive(clinician, steps)


@SIZES
def test_left_and_right_lead_to_the_column_on_that_side(
    clinician: DeskApp, desk: Desk, size: tuple[int, int]
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        assert marked_ears(driver) == ["right"]
        for key, expected in (("right", "left"), ("left", "right")):
            await driver.press(key)
            assert marked_ears(driver) == [expected]

    drive(clinician, steps, size)
