"""The box of a closed visit: it leads on, and no key goes by in it without a word."""

from __future__ import annotations

from datetime import date

from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.people.ear_history import ear_history, planned
from recall.schedule.plan_lines import lines_of
from tests.desk.practice import somebody, visit
from tests.tui.driving import Driver, drive
from tests.tui.test_visits import ADULT, REF, begin
from tui.app import DeskApp
from tui.visits.plan_text import plan_lines


def test_from_a_closed_visit_the_areas_are_one_key_away_and_letters_are_answered(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        assert "Nothing is open so far." in driver.words
        await driver.press("c", "3", "0", "3", "w", "y")
        assert driver.where == "ClosedSheet"
        await driver.press("v")
        assert driver.where == "ClosedSheet" and "Esc puts this away first" in driver.words
        await driver.press("p")
        assert "To print and hand over" in driver.words
        await driver.press("f4")
        assert driver.where == "FindScreen"

    drive(clinician, steps)

    assert len(ear_history(desk, REF).case.visits) == 1


def test_an_object_that_is_looked_for_again_is_called_so(desk: Desk) -> None:
    person_id = somebody(desk, REF, born=date(1961, 4, 9), adult=False)
    visit(desk, person_id, right=Ear(foreign_body="other", drum_seen="part"))
    plan = planned(desk, ear_history(desk, REF), None)
    assert "object in the ear, right ear" in {line.words() for line in lines_of(plan)}
    assert "right object in the ear" in "\n".join(
        str(each) for each in plan_lines(plan, desk.today, 90)
    )
