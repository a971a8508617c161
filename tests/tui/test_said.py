"""What the person said, ticked on one sheet: several at once, by ear, with its days."""

from __future__ import annotations

from datetime import date
from typing import get_args

import pytest

from recall.care.case import Reported, ReportWord
from recall.care.dates import Before
from recall.desk.core.session import Desk
from recall.desk.people.ear_history import ear_history
from tests.desk.practice import somebody
from tests.tui.driving import Driver, drive
from tests.tui.test_visits import ADULT, REF, begin
from tui.app import DeskApp
from tui.visits.said import Report, lines_of, ticked


def said(desk: Desk) -> tuple[Report, ...]:
    """What the last visit holds of it."""
    return ear_history(desk, REF).case.visits[-1].reported


def test_several_are_ticked_on_one_sheet(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("c", "1", "0", "0", "s")
        await driver.press("i", "space", "b", "l", "o", "2")
        assert "left ear" in driver.text
        await driver.press("p", "space", "space", "enter")
        assert "Said blocked feeling (left), itch" in driver.text
        await driver.press("w", "y")

    drive(clinician, steps)

    assert set(said(desk)) == {"itch", Reported(what="blocked_feeling", ear="left")}


def test_the_ears_are_told_apart_with_their_days(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("c", "1", "0", "0", "s", "i", "1", "plus", "2", "tab")
        await driver.press("down")
        await driver.type("2026-08")
        await driver.press("ctrl+s")
        assert "left ear, since 2026-08" in driver.text
        await driver.press("enter", "s", "escape", "w", "y")

    drive(clinician, steps)

    assert said(desk) == (
        Reported(what="itch", ear="right"),
        Reported(what="itch", ear="left", since="2026-08"),
    )


def test_an_explained_loss_needs_its_cause(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("s", "l", "space", "enter")
        assert "needs its cause" in driver.words
        await driver.press("tab", "down", "down", "down")
        await driver.type("noise at work")
        await driver.press("ctrl+s", "enter")
        assert screen.form is not None
        assert screen.form.reported == (Reported(what="loss_explained", because="noise at work"),)

    drive(clinician, steps)


def test_what_was_ticked_is_thrown_away_only_at_the_second_time(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("s", "plus")
        assert "Tick it first" in driver.words
        await driver.press("space", "escape")
        assert "throws away" in driver.words
        await driver.press("escape")
        assert driver.where == "VisitScreen"
        assert screen.form is not None
        assert screen.form.reported == ()

    drive(clinician, steps)


@pytest.mark.parametrize("word", get_args(ReportWord))
def test_what_is_shown_and_not_touched_comes_back_as_it_was(word: ReportWord) -> None:
    known: tuple[Report, ...] = (
        Reported(what=word, ear="right", since=date(2026, 8, 3), onset_days=2),
        Reported(what=word, ear="left"),
    )

    assert ticked(lines_of(known)) == known
    assert ticked(lines_of((word,))) == (word,)
    assert {line.word for line in lines_of(known)} == set(get_args(ReportWord))


def test_what_is_about_an_ear_asks_which_before_it_is_taken(clinician: DeskApp, desk: Desk) -> None:
    """A pain of no side would be answered by whichever ear was looked at. Common practice."""
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("s", "p", "a", "space")
        assert "which ear? 1 right, 2 left, 3 both" in driver.words
        await driver.press("enter")
        assert "Pain: which ear?" in driver.words
        await driver.press("1", "enter", "s", "p", "a", "3", "enter")
        assert screen.form is not None
        assert screen.form.reported == ("pain",)

    drive(clinician, steps)


def test_tab_leads_to_the_ear_then_to_since_and_the_visit_shows_both(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("s", "p", "a", "tab", "l", "tab")
        await driver.type("6w")
        await driver.press("tab", "1", "enter")
        assert "left ear, since 6w, came on over 1 day" in driver.words
        await driver.press("tab", "tab", "tab", "enter", "enter")
        assert "Said pain (left, since 6w, came on over 1 day)" in driver.text
        assert screen.form is not None
        (pain,) = screen.form.reported
        assert pain == Reported(what="pain", ear="left", since=Before(weeks=6), onset_days=1)

    drive(clinician, steps)


def test_the_first_letter_may_mean_the_line_that_is_marked_already(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("s", "h", "3", "enter")
        assert screen.form is not None
        assert screen.form.reported == ("hearing_concern",)

    drive(clinician, steps)
