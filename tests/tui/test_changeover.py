"""Looking through history by keys: one for an answer, a whole group with its count, undo."""

from __future__ import annotations

from pathlib import Path

import pytest

from recall.desk.core.session import Desk
from recall.desk.oversight.counts import counts
from recall.desk.plans.changeover import kinds, portion
from recall.desk.plans.looking_through import Answer, answer_kind
from recall.desk.plans.passing_time import bring_up_to_date
from recall.desk.practice import demo
from tests.tui.conftest import ON, opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp

TO_HISTORY = ("2",)


@pytest.fixture
def live(clinician: DeskApp, practice: Path) -> Desk:
    """The practice went live on its day; another desk at it, of somebody who may decide."""
    with practice.open("a", encoding="utf-8") as file:
        file.write(f"\n[changeover]\nwent_live = {ON.isoformat()}\n")
    desk = opening(practice, "quill")
    bring_up_to_date(desk)
    return desk


def test_one_key_answers_and_the_count_on_today_shrinks(clinician: DeskApp, live: Desk) -> None:
    before = counts(live).history
    first = portion(live).lines[0]

    async def steps(driver: Driver) -> None:
        assert f"{before:,} from before you went live" in driver.words
        await driver.press(*TO_HISTORY)
        assert driver.where == "ChangeoverScreen"
        assert first.reference in driver.words
        await driver.press("s")
        await driver.until(lambda: "Still open." in driver.words)
        await driver.press("u", "y")
        await driver.until(lambda: f"{before:,} to be looked through" in driver.words)

    drive(clinician, steps, (120, 40))
    assert counts(live).history == before


def test_what_was_done_says_where_and_when(clinician: DeskApp, live: Desk) -> None:
    before = counts(live).history

    async def steps(driver: Driver) -> None:
        await driver.press(*TO_HISTORY, "d")
        await driver.type("Elm House")
        await driver.press("enter")
        await driver.type("2026-01")
        await driver.press("ctrl+s")
        await driver.until(lambda: "Done elsewhere: Elm House, 2026-01." in driver.words)

    drive(clinician, steps, (120, 40))
    assert counts(live).history < before


def test_a_whole_group_is_answered_with_its_count(clinician: DeskApp, live: Desk) -> None:
    before = counts(live).history
    place, first = next((n, each) for n, each in enumerate(kinds(live), 1) if each.count > 1)

    async def steps(driver: Driver) -> None:
        await driver.press(*TO_HISTORY, "k", str(place))
        await driver.until(lambda: "all that are alike" in driver.words)
        await driver.press("asterisk", "d")
        await driver.type("Elm House")
        await driver.press("enter")
        await driver.type("2026-09-07")
        await driver.press("enter")
        await driver.type(str(first.count))
        await driver.press("ctrl+s")
        await driver.until(lambda: "answered: Done elsewhere" in driver.words)

    drive(clinician, steps, (120, 40))
    assert counts(live).history == before - first.count


def test_after_a_group_of_many_portions_one_key_shows_the_next(
    clinician: DeskApp, live: Desk, practice: Path
) -> None:
    text = practice.read_text("utf-8")
    practice.write_text(text.replace("[changeover]\n", "[changeover]\na_day = 1\n"), "utf-8")
    group = max(kinds(live), key=lambda each: each.count)
    answer_kind(live, group.kind, group.count, Answer("still_open"))

    async def steps(driver: Driver) -> None:
        await driver.press(*TO_HISTORY)
        await driver.until(lambda: "+ shows more" in driver.words)
        await driver.press("plus")
        await driver.until(lambda: portion(live, group.count).lines[0].reference in driver.words)

    drive(clinician, steps, (120, 40))


def test_reception_may_look_and_not_answer(app: DeskApp, live: Desk) -> None:
    before = counts(live).history

    async def steps(driver: Driver) -> None:
        await driver.press(*TO_HISTORY, "s")
        await driver.until(lambda: "may not confirm" in driver.words)

    app._opening = lambda: opening(Path(live.store.path).with_name("recall.toml"), demo.WHO)
    drive(app, steps, (120, 40))
    assert counts(live).history == before
