"""A line is struck out, raised or lowered in two keys and a reason, on a real register."""

from __future__ import annotations

from dataclasses import replace

import pytest

from recall.care.case import Reported
from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.people.person_card import person
from recall.desk.plans.judging import standing_lines
from recall.records import tables
from tests.desk.practice import later, rows, somebody, visit
from tests.tui.driving import Driver, drive
from tests.tui.test_visits import ADULT, REF, answer, begin
from tui.app import DeskApp
from tui.ears.fields import BY_NAME, FIELDS
from tui.screens.visit import VisitScreen

SIZES = ((80, 24), (120, 40))


async def hole(driver: Driver) -> VisitScreen:
    """Type a hole in the right drum: a look again, and nothing that presses."""
    screen = await begin(driver)
    await answer(driver, screen, "right", wax_found="0", drum_seen="0", attic_seen="0")
    await answer(driver, screen, "right", effusion="2")
    return screen


async def words(driver: Driver) -> None:
    """Say why, which the reason *clinical judgement* does not."""
    await driver.type("settled")
    await driver.press("enter")


def names(desk: Desk) -> list[str]:
    return [line.name for line in standing_lines(desk, REF).lines]


@pytest.mark.parametrize("size", SIZES)
def test_a_line_is_struck_out_in_two_keys_and_a_reason(
    clinician: DeskApp, desk: Desk, size: tuple[int, int]
) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        screen = await hole(driver)
        await driver.press("x")
        assert "Which line?" in driver.words and "fluid, right ear" in driver.words
        await driver.press("1")
        assert "known elsewhere" in driver.words and "clinical judgement" in driver.words
        await driver.press("4")
        assert "Why, in a few words" in driver.words and not screen.form.judged  # type: ignore[union-attr]
        await driver.press("enter")
        assert not screen.form.judged  # type: ignore[union-attr]
        await words(driver)
        assert [name for name, _ in screen.form.judged] == ["fluid:right"]  # type: ignore[union-attr]
        assert "✗ fluid, right ear: struck" in driver.text
        await driver.press("u")
        assert "✗" not in driver.text
        await driver.press("x", "1", "4")
        await words(driver)
        await driver.press("w")
        assert "Struck out: fluid, right" in driver.words
        await driver.press("y", "escape")
        assert "Struck out or lowered" in driver.text

    drive(clinician, steps, size)

    assert "fluid:right" not in names(desk)
    (row,) = rows(desk.store, tables.Decision)
    assert (row["action"], row["because"], row["why"], row["rule"]) == (
        "strike",
        "judgement",
        "settled",
        "fluid-child-look",
    )


def test_digits_typed_ahead_reach_the_sheet_and_never_the_ear(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        screen = await hole(driver)
        before = screen.form
        await driver.type("x14")
        await words(driver)
        assert screen.form is not None and before is not None
        assert (screen.form.right, screen.form.left) == (before.right, before.left)
        assert len(screen.form.judged) == 1

    drive(clinician, steps)


def test_a_line_is_raised_and_lowered_step_by_step(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        screen = await hole(driver)
        await driver.press("g", "1")
        assert "clinical judgement" in driver.words and "declines" not in driver.words
        await driver.press("1")
        await words(driver)
        assert "↑ fluid, right ear: made high" in driver.text
        await driver.press("l", "1", "4")
        await words(driver)
        assert "↑" not in driver.text
        await driver.press("l", "1", "4")
        await words(driver)
        assert "↓ fluid, right ear: made low" in driver.text and "✗" not in driver.text
        assert screen.plan is not None and screen.plan.follow_ups[0].urgency == "low"
        await driver.press("w", "y", "escape")

    drive(clinician, steps)

    (line,) = [x for x in standing_lines(desk, REF).lines if x.name == "fluid:right"]
    assert line.urgency == "low"


def test_a_childs_line_is_declined_only_after_the_prompt(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        screen = await hole(driver)
        await driver.press("x", "1", "2")
        assert "Consider first" in driver.words
        await driver.press("escape")
        assert screen.form is not None and not screen.form.judged
        await driver.press("x", "1", "2", "y", "w", "y", "escape")

    drive(clinician, steps)

    assert "fluid:right" not in names(desk)


def test_an_emergency_needs_what_explains_it(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        assert screen.form is not None
        told = (Reported(what="sudden_hearing_loss", ear="right"),)

        screen.change(replace(screen.form, reported=told, right=Ear(drum_seen="full")))
        await driver.settle()
        await driver.press("x", "1", "4")
        assert "An emergency stands" in driver.words
        await driver.press("x", "1", "3")
        assert "An emergency stands" in driver.words
        screen.change(
            replace(
                screen.form,
                right=Ear(drum_seen="full", hearing_after="better", clearance="cleared"),
            )
        )
        await driver.settle()
        await driver.press("x", "1", "3")
        assert "What explains it" in driver.words
        await driver.type("Wax, out now.")
        await driver.press("enter")
        assert [j.why for _, j in screen.form.judged] == ["Wax, out now."]  # type: ignore[union-attr]
        await driver.press("w", "y", "escape")

    drive(clinician, steps)

    assert not any(name.startswith("ent:") for name in names(desk))
    assert person(desk, REF).referrals == ()


def test_a_date_is_moved_for_a_reason_of_the_list(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        await hole(driver)
        await driver.press("d")
        assert "Which date?" in driver.words
        await driver.press("1")
        await driver.press("enter", "enter", "enter", "enter", "enter")
        await driver.press("w")
        assert "Other days: fluid, right ear" in driver.words and "; by rule" in driver.words
        await driver.press("y", "escape")

    drive(clinician, steps)

    moves = rows(desk.store, tables.Decision, action="move")
    assert {row["because"] for row in moves} == {"judgement"}


def test_another_kind_takes_the_place_of_what_it_replaces(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        screen = await hole(driver)
        await driver.press("k", "h", "enter", "enter")
        await driver.type("Seen at school.")
        await driver.press("ctrl+s")
        assert screen.form is not None and screen.form.replaces == "fluid:right"
        await driver.press("w", "y", "escape")

    drive(clinician, steps)

    assert [name for name in names(desk) if name.startswith(("fluid", "hear", "perf"))]
    assert "fluid:right" not in names(desk)


def test_a_referral_whose_reason_is_gone_is_answered_by_a_key(
    clinician: DeskApp, desk: Desk
) -> None:
    person_id = somebody(desk, REF)
    loss = {"500": 45, "1000": 45, "2000": 45, "4000": 50}
    hears = dict.fromkeys(loss, 10)
    visit(later(desk, -42), person_id, right=Ear(hearing_dB=loss), left=Ear(hearing_dB=loss))

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        assert screen.form is not None
        both = {side: Ear(hearing_dB=hears) for side in ("right", "left")}
        screen.change(replace(screen.form, **both))
        await driver.settle()
        await driver.press("w")
        assert "Its reason is gone" in driver.words and "still needed" in driver.words
        await driver.press("3")
        assert "Struck out: refer to child audiology, both" in driver.words
        await driver.press("y")
        assert "Tell child audiology that the referral" in driver.words

    drive(clinician, steps)

    assert not any(name.startswith("paediatric") for name in names(desk))


def test_a_jump_takes_three_keys_however_fast_they_are_typed(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("j")
        assert "Go to which finding?" in driver.text
        await driver.press("escape")
        assert driver.where == "VisitScreen" and "Go to which" not in driver.text
        await driver.type("jfl")
        assert screen.grid.field.label == "Fluid" and driver.where == "VisitScreen"
        await driver.type("jho1")
        assert screen.grid.side == "right" and screen.form is not None
        assert screen.form.right.perforation == "central"
        await driver.type("jzz")
        assert "No finding begins with zz" in driver.words
        screen.grid.mark(FIELDS.index(BY_NAME["attic_crust"]))
        await driver.type("jat")
        assert screen.grid.field.label == "Attic (Tos)" and "at again: Attic." in driver.words
        await driver.type("jat")
        assert screen.grid.field.label == "Attic"
        await driver.type("jatjat")
        assert screen.grid.field.label == "Attic (Tos)"

    drive(clinician, steps)


def test_a_one_sided_visit_is_clear_except_for_what_is_marked(
    clinician: DeskApp, desk: Desk
) -> None:
    """Seven keys: go to the finding (three), clear the rest (four); the eighth answers it."""
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("j", "h", "o", "a", "0", "0", "0")
        assert screen.form is not None
        assert (screen.form.right.perforation, screen.form.left.perforation) == (None, "none")
        assert screen.form.right.effusion == "absent"
        assert (screen.grid.field.label, screen.grid.side) == ("Hole in drum", "right")
        await driver.press("1")
        assert screen.form.right.perforation == "central"

    drive(clinician, steps)


def test_a_visit_that_is_typed_and_not_closed_is_told_of_on_the_persons_screen(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        await hole(driver)
        await driver.press("escape")
        assert "typed and not closed" in driver.words
        await driver.press("v", "w", "y", "escape", "escape")
        assert "typed and not closed" not in driver.words

    drive(clinician, steps)


def test_what_was_just_typed_is_written_into_the_other_ear_too(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await answer(driver, screen, "right", drum_seen="1")
        await driver.press("equals_sign")
        assert screen.form is not None
        assert (screen.form.right.drum_seen, screen.form.left.drum_seen) == ("part", "part")
        after = screen.grid.row
        await answer(driver, screen, "right", effusion="2")
        screen.grid.mark(FIELDS.index(BY_NAME["drum_seen"]), "right")
        await driver.press("1", "up", "equals_sign")
        assert screen.form.left.effusion is None, "the marked line, where the mark was moved"
        assert screen.grid.row == after

    drive(clinician, steps)


def test_what_stood_is_not_new_at_a_second_closing_of_the_day(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        await hole(driver)
        await driver.press("w")
        assert "New: fluid, right ear" in driver.words
        await driver.press("y", "escape")
        screen = await begin(driver)
        await answer(driver, screen, "right", canal_skin="0")
        await driver.press("w")
        assert "Open already: fluid, right ear" in driver.words
        assert "New: fluid" not in driver.words

    drive(clinician, steps)


def test_no_come_back_if_is_suggested_above_what_has_a_date(clinician: DeskApp, desk: Desk) -> None:
    number = somebody(desk, REF, **ADULT)
    visit(later(desk, -30), number, right=Ear(drum_seen="full", tensa_grade=2))

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("c", "1", "0", "0")
        assert screen.plan is not None and screen.plan.follow_ups and screen.plan.advice
        assert "Come back if" not in driver.words

    drive(clinician, steps)
