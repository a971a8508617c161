"""Lines that stood before a visit are judged like new ones, and without a visit as well."""

from __future__ import annotations

import pytest

from recall.desk.core.session import Desk
from recall.desk.people.ear_history import ear_history
from recall.desk.people.person_card import person
from recall.records import tables
from tests.desk.practice import FLUID, later, rows, somebody, visit
from tests.tui.driving import Driver, drive
from tests.tui.test_judging import names, words
from tests.tui.test_visits import REF, answer, begin
from tui.app import DeskApp


def a_child_with_fluid(desk: Desk) -> None:
    """Seen some weeks before, so that a look at the fluid stands."""
    visit(later(desk, -21), somebody(desk, REF), right=FLUID)
    assert "fluid:right" in names(desk)


@pytest.mark.parametrize(
    ("key", "does", "urgency"),
    [("x", "strike", None), ("g", "weigh", "high"), ("l", "weigh", "low")],
)
def test_a_standing_line_is_judged_without_a_visit(
    clinician: DeskApp, desk: Desk, key: str, does: str, urgency: str | None
) -> None:
    a_child_with_fluid(desk)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press(key, "1", "1" if key == "g" else "4")
        await words(driver)
        await driver.press("w")
        assert "no visit is made of it" in driver.words
        await driver.press("y")
        assert "Planned again" in driver.words
        await driver.press("escape")
        assert driver.where == "PersonScreen"

    drive(clinician, steps)

    (row,) = rows(desk.store, tables.Decision)
    assert (row["action"], row["urgency"], row["because"]) == (does, urgency, "judgement")
    assert len(ear_history(desk, REF).case.visits) == 1
    assert ("fluid:right" in names(desk)) is (does != "strike")


def test_a_standing_line_is_moved_without_a_visit(clinician: DeskApp, desk: Desk) -> None:
    a_child_with_fluid(desk)
    (was,) = person(desk, REF).follow_ups

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("d")
        await driver.press("1")
        await driver.press("down", "down", *["backspace"] * 10)
        await driver.type(f"{was.latest.replace(year=2027):%d/%m/%Y}")
        await driver.press("ctrl+s", "w", "y", "escape")

    drive(clinician, steps)

    (row,) = rows(desk.store, tables.Decision)
    assert (row["action"], row["latest"]) == ("move", was.latest.replace(year=2027))
    (now,) = person(desk, REF).follow_ups
    assert now.latest == was.latest.replace(year=2027)


def test_a_standing_line_is_struck_out_while_a_visit_is_typed(
    clinician: DeskApp, desk: Desk
) -> None:
    a_child_with_fluid(desk)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await answer(driver, screen, "left", wax_found="0", drum_seen="0")
        await driver.press("x", "1", "4")
        await words(driver)
        await driver.press("w")
        assert "Struck out: fluid, right" in driver.words
        await driver.press("y", "escape")

    drive(clinician, steps)

    assert "fluid:right" not in names(desk)
    assert len(ear_history(desk, REF).case.visits) == 2


def test_lines_that_were_judged_are_kept_where_one_leaves_the_form(
    clinician: DeskApp, desk: Desk
) -> None:
    a_child_with_fluid(desk)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("x", "1", "4")
        await words(driver)
        await driver.press("w", "escape", "escape", "v")
        assert "✗ fluid, right ear: struck" in driver.text

    drive(clinician, steps)

    assert rows(desk.store, tables.Decision) == []
