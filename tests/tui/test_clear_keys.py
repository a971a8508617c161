"""The quick keys of an everyday visit: what was found, what was seen, how they hear now."""

from __future__ import annotations

import pytest

from recall.desk.core.session import Desk
from tests.desk.practice import somebody
from tests.tui.driving import Driver, drive
from tests.tui.test_visits import ADULT, REF, begin, stored
from tui.app import DeskApp


@pytest.mark.parametrize(
    ("digit", "hears"), [("0", "better"), ("1", "same"), ("2", "worse"), ("3", None)]
)
def test_the_third_digit_says_how_they_hear_now(
    clinician: DeskApp, desk: Desk, digit: str, hears: str | None
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("c", "2", "0")
        assert "they hear now" in driver.words
        await driver.press(digit)
        assert driver.where == "VisitScreen"
        await driver.press("w", "y")

    drive(clinician, steps)

    _, ears = stored(desk)
    assert [ear.hearing_after for ear in ears.values()] == [hears, hears]


def test_hearing_no_better_asks_for_a_test_and_better_does_not(
    clinician: DeskApp, desk: Desk
) -> None:
    """NICE NG98 (2018) 1.1.1: wax excluded, then hearing is assessed."""
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("c", "3", "0", "1")
        assert screen.plan is not None
        said = {d.rule for f in screen.plan.follow_ups for d in f.dues}
        assert "hearing-not-back" in said
        await driver.press("u", "c", "3", "0", "0")
        assert screen.plan is not None
        assert not any(d.track == "hearing" for f in screen.plan.follow_ups for d in f.dues)

    drive(clinician, steps)


def test_where_nothing_was_taken_out_nobody_is_asked_how_they_hear(
    clinician: DeskApp, desk: Desk
) -> None:
    """The number of keys stays the same: a digit too many must not land in a finding."""
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("c", "0", "0", "2")
        assert "means nothing here" in driver.words
        await driver.press("0")
        assert driver.where == "VisitScreen"
        assert screen.form is not None
        assert screen.form.right.hearing_after is None
        assert screen.form.right.wax_found == "none"

    drive(clinician, steps)


def test_one_key_makes_the_sheet_to_take_home_at_closing(clinician: DeskApp, desk: Desk) -> None:
    number = somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("c", "3", "0", "0", "w", "y", "p")
        assert "To print and hand over" in driver.words
        await driver.press("escape")
        assert driver.where == "PersonScreen"

    drive(clinician, steps)

    (page,) = desk.config.files.letters.glob(f"V-{number}-*.pdf")
    assert page.read_bytes().startswith(b"%PDF")
