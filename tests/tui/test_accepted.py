"""What is said when a visit is closed: each thing once, and in the right place."""

from __future__ import annotations

from dataclasses import replace

from recall.care.case import ReportWord
from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.people.timeline import timeline
from recall.records import tables
from tests.desk.practice import FLUID, later, rows, somebody, visit
from tests.tui.driving import Driver, drive
from tests.tui.test_judging import hole, words
from tests.tui.test_visits import ADULT, REF, answer, begin
from tui.app import DeskApp


def test_a_look_that_is_asked_for_again_is_not_new(clinician: DeskApp, desk: Desk) -> None:
    visit(later(desk, -42), somebody(desk, REF), right=FLUID)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await answer(driver, screen, "right", drum_seen="0", attic_seen="0", effusion="2")
        await driver.press("w")
        assert "Asked again: fluid, right ear" in driver.words
        assert "New: fluid, right ear" not in driver.words
        assert "Open already: fluid, right ear" not in driver.words

    drive(clinician, steps)


def test_what_falls_away_says_why(clinician: DeskApp, desk: Desk) -> None:
    """AAO-HNSF tubes 2022 statement 5: fluid is followed until it is gone."""
    visit(later(desk, -42), somebody(desk, REF), right=FLUID)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await answer(driver, screen, "right", drum_seen="0", attic_seen="0", effusion="0")
        await driver.press("w")
        assert "Falls away: fluid, right ear: what it was for is gone" in driver.words

    drive(clinician, steps)


def test_a_second_try_is_said_once_and_not_beside_the_look_it_is_for(
    clinician: DeskApp, desk: Desk
) -> None:
    visit(later(desk, -42), somebody(desk, REF), right=FLUID)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await answer(driver, screen, "right", wax_found="3", drum_seen="3")
        await driver.press("w")
        assert "Second try: fluid again, right ear" in driver.words
        assert "Open already: fluid, right ear" not in driver.words

    drive(clinician, steps)


def test_a_line_that_was_moved_is_said_with_its_other_days_alone(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        await hole(driver)
        await driver.press("d", "1")
        await driver.press("down", "down", *["backspace"] * 10)
        await driver.type("30/11/2026")
        await driver.press("ctrl+s")
        await driver.press("w")
        assert "Other days: fluid, right ear" in driver.words
        assert "New: fluid, right ear" not in driver.words

    drive(clinician, steps)


def test_a_raised_line_is_said_with_its_days_and_is_not_new_as_well(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        await hole(driver)
        await driver.press("g", "1", "1")
        await words(driver)
        await driver.press("w")
        assert "Weighed otherwise: fluid, right ear" in driver.words
        assert "New: fluid, right ear" not in driver.words

    drive(clinician, steps)


def test_known_elsewhere_is_kept_with_where_and_when_they_are_seen_there(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        screen = await hole(driver)
        await driver.press("x", "1", "1")
        assert "Where" in driver.words and "Seen there next" in driver.words
        await driver.press("ctrl+s")
        assert not screen.form.judged, "a place is needed"  # type: ignore[union-attr]
        await driver.type("Sorrel Hospital")
        await driver.press("tab")
        await driver.type("1/9/2026")
        await driver.press("ctrl+s")
        assert "gone by" in driver.words
        await driver.press(*["backspace"] * 8)
        await driver.type("3/2/2027")
        await driver.press("ctrl+s")
        told = "at Sorrel Hospital, seen there next on 3 February 2027"
        assert f"known elsewhere ({told})" in driver.words
        await driver.press("w")
        assert f"Struck out: fluid, right ear ({told})" in driver.words
        await driver.press("y", "escape")

    drive(clinician, steps)

    (row,) = rows(desk.store, tables.UnderCare)
    assert "Sorrel Hospital" in row["content"] and "2027-02-03" in row["content"]
    told = " ".join(sentence.says for sentence in timeline(desk, REF))
    assert "at Sorrel Hospital, seen there next on 3 February 2027." in told
    assert "known elsewhere (at Sorrel Hospital, seen there next on 3 February 2027)" in told


def test_the_day_of_the_next_look_elsewhere_may_be_left_out(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        await hole(driver)
        await driver.press("x", "1", "1")
        await driver.type("Sorrel Hospital")
        await driver.press("ctrl+s")
        assert "known elsewhere (at Sorrel Hospital)" in driver.words

    drive(clinician, steps)


async def closing(driver: Driver, *told: ReportWord) -> None:
    screen = await begin(driver)
    assert screen.form is not None
    screen.take(replace(screen.form, reported=told))
    await driver.settle()
    await driver.press("w")
    assert "seen today, within 24 hours" in driver.words
    await driver.press("y")


async def arrange(driver: Driver) -> None:
    assert driver.where == "Acknowledge"
    assert "seen today, within 24 hours" in driver.words and "8 Sep" not in driver.words
    await driver.type("A. Quill")
    await driver.press("enter")
    await driver.type("Dr Sorrel, ENT")
    await driver.press("enter")


def test_an_emergency_is_seen_today_and_is_arranged_once_a_day(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await closing(driver, "sudden_hearing_loss")
        await arrange(driver)
        assert driver.where == "ClosedSheet"
        await driver.press("escape")
        await closing(driver, "sudden_hearing_loss")
        assert driver.where == "ClosedSheet", "nothing has changed: it is arranged"
        await driver.press("escape")
        await closing(driver, "sudden_hearing_loss", "facial_weakness")
        assert driver.where == "Acknowledge", "it is about more than before"

    drive(clinician, steps)

    spoken = rows(desk.store, tables.ReferralEvent, what="spoke")
    assert [event["spoke_with"] for event in spoken] == ["Dr Sorrel, ENT"] * 2, "one an ear"


def test_where_no_wax_was_found_nothing_of_clearing_is_asked(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await answer(driver, screen, "right", wax_found="0")
        assert screen.grid.field.name == "drum_seen"
        await answer(driver, screen, "left", wax_found="3")
        assert screen.grid.field.name == "clearance"
        assert screen.form is not None and screen.form.right == Ear(wax_found="none")

    drive(clinician, steps)
