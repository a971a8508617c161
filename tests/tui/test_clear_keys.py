"""The quick keys of an everyday visit: what was found, what was seen, how they hear now."""

from __future__ import annotations

import pytest

from recall.care.ear import Ear
from recall.desk.core.session import Desk
from tests.desk.practice import later, somebody, visit
from tests.tui.driving import Driver, drive
from tests.tui.test_key_counts import keys as keys_of
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


def test_the_shortcut_pressed_again_takes_the_new_answers(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("c", "3", "2", "1")
        await driver.press("c", "3", "0", "0")
        assert "Answered anew." in driver.words
        assert screen.form is not None
        for ear in (screen.form.right, screen.form.left):
            assert (ear.drum_seen, ear.effusion, ear.hearing_after) == ("full", "absent", "better")
        await driver.press("u")
        assert (screen.form.left.drum_seen, screen.form.left.hearing_after) == ("part", "same")

    drive(clinician, steps)


def test_the_shortcut_names_what_was_typed_and_stays(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("1", "c", "3", "0", "0")
        assert "Kept as typed: right wax found." in driver.words
        assert screen.form is not None
        assert (screen.form.right.wax_found, screen.form.left.wax_found) == ("some", "occluding")

    drive(clinician, steps)


def test_the_marked_finding_is_left_to_be_typed_after_the_shortcut_wrote_it(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("c", "1", "0", "3", "j", "f", "l", "a", "1", "0", "3")
        assert screen.form is not None
        assert (screen.form.right.effusion, screen.form.left.effusion) == (None, "absent")

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


@pytest.mark.parametrize("keys", ["c300<right><down>1", "<right><down>a3001"])
def test_one_ear_that_did_not_come_out_takes_seven_keys(
    clinician: DeskApp, desk: Desk, keys: str
) -> None:
    """What follows from it is written by itself: the wax lies there, the drum was not seen."""
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press(*keys_of(keys))
        assert "Changed with it, left ear: wax left, drum seen" in driver.words
        assert screen.form is not None and screen.plan is not None
        assert (screen.form.left.wax_left, screen.form.left.drum_seen) == ("occluding", "none")
        assert "wax" in {d.track for f in screen.plan.follow_ups for d in f.dues}
        await driver.press("w", "y", "escape")

    drive(clinician, steps)

    _, ears = stored(desk)
    assert (ears["left"].clearance, ears["left"].effusion) == ("failed", None)
    assert (ears["right"].clearance, ears["right"].effusion) == ("cleared", "absent")
    assert len(keys_of(keys)) == 7


def test_a_known_cavity_is_written_and_the_mark_asks_how_quiet_it_is(
    clinician: DeskApp, desk: Desk
) -> None:
    number = somebody(desk, REF, **ADULT)
    visit(later(desk, -300), number, right=Ear(cavity=True, cavity_quiet=True))

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("c", "1", "0", "3")
        assert "type what you see: right cavity" in driver.words
        await driver.press("0", "w", "y", "escape")
        assert screen.form is not None

    drive(clinician, steps)

    _, ears = stored(desk)
    assert (ears["right"].cavity, ears["right"].cavity_quiet) == (True, True)
    assert ears["right"].attic_grade is None


def test_a_new_cavity_is_typed_after_the_shortcut(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("c", "1", "0", "3", "j", "o", "p", "1", "0", "w", "y", "escape")

    drive(clinician, steps)

    _, ears = stored(desk)
    assert (ears["right"].cavity, ears["right"].cavity_quiet) == (True, True)
    assert ears["right"].attic_seen is None
