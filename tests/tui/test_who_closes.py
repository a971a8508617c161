"""Who closes a visit, who examined, and with whom an emergency was arranged, by keys."""

from __future__ import annotations

from dataclasses import replace

import pytest

from recall.desk.core.session import Desk
from recall.desk.people.ear_history import ear_history
from recall.records import tables
from tests.desk.practice import rows, somebody
from tests.tui.driving import Driver, drive
from tests.tui.test_visits import ADULT, REF, begin, stored
from tui.app import DeskApp


async def hand_over(driver: Driver, handle: str) -> None:
    """Let somebody else act at this desk, by keys alone."""
    await driver.press("f9")
    before = driver.words.split(handle)[0]
    await driver.press(before.split()[-1])
    assert driver.app.acting == handle


@pytest.mark.parametrize(("key", "examiner"), [("1", "osei"), ("2", "quill")])
def test_who_examined_is_asked_where_somebody_else_closes(
    clinician: DeskApp, desk: Desk, key: str, examiner: str
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("c", "0", "0", "0")
        await hand_over(driver, "osei")
        await driver.press("w")
        assert "Examined by M. Osei?" in driver.words
        await driver.press("escape")
        assert driver.app.screen is screen
        await driver.press("w", key, "y")
        assert "is closed" in driver.words
        assert "waits for a clinician" not in driver.words
        await driver.press("escape")

    drive(clinician, steps)

    row, _ = stored(desk)
    assert ear_history(desk, REF).case.visits[-1].examiner == examiner
    assert row["confirmed_by_id"] == row["by_id"]


@pytest.mark.parametrize(("key", "examiner"), [("1", "quill"), ("2", None)])
def test_a_visit_that_reception_closes_waits_for_a_clinician(
    clinician: DeskApp, desk: Desk, key: str, examiner: str | None
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("c", "3", "0", "3")
        await hand_over(driver, "thackray")
        await driver.press("w")
        assert "Examined by A. Quill?" in driver.words
        await driver.press(key, "y")
        assert "waits for a clinician to confirm its plan" in driver.words
        await driver.press("escape")

    drive(clinician, steps)

    row, _ = stored(desk)
    assert row["confirmed_by_id"] is None
    assert ear_history(desk, REF).case.visits[-1].examiner == examiner


def test_an_emergency_is_closed_only_with_whom_it_was_arranged(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        assert screen.form is not None
        screen.take(replace(screen.form, reported=("sudden_hearing_loss",)))
        await driver.settle()
        await driver.press("w", "y")
        assert "EMERGENCY" in driver.words
        assert "With whom was it arranged by phone?" in driver.words
        await driver.type("A. Quill")
        await driver.press("enter")
        assert driver.where == "Acknowledge"
        assert "type with whom it was arranged" in driver.words
        await driver.type("Dr Sorrel, ENT")
        await driver.press("enter")
        assert driver.where == "ClosedSheet"
        await driver.press("escape")

    drive(clinician, steps)

    emergencies = rows(desk.store, tables.ReferralEvent, what="spoke")
    assert {event["spoke_with"] for event in emergencies} == {"Dr Sorrel, ENT"}
