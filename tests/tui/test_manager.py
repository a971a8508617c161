"""A manager's month end by keys: nothing leaves the lists without a reason and a name."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path
from types import SimpleNamespace

import pytest

from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe
from recall.desk.oversight.checked import checked
from recall.desk.people.person_card import person
from recall.desk.people.timeline import timeline
from recall.desk.plans import decisions
from recall.desk.worklists import lists
from recall.desk.worklists.referral_list import referrals
from recall.records import tables
from tests.desk.practice import rows
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.commands.table import commands_of
from tui.manager.deciding import decision_sheet
from tui.manager.names import KEYS
from tui.screens.manager import ManagerScreen


@pytest.fixture
def manager(app: DeskApp, practice: Path) -> DeskApp:
    """The desk with a clinician at it who may decide."""
    app._opening = lambda: opening(practice, "quill")
    return app


async def register(driver: Driver) -> ManagerScreen:
    """Go to the manager's lists."""
    await driver.press("f6")
    screen = driver.app.screen
    assert isinstance(screen, ManagerScreen)
    return screen


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_every_list_is_shown_whole_on_any_screen(manager: DeskApp, size: tuple[int, int]) -> None:
    async def steps(driver: Driver) -> None:
        screen = await register(driver)
        for view, key in KEYS.items():
            await driver.press(key)
            assert screen.view == view
            assert screen.listed is not None
            assert all(len(line) <= size[0] for line in driver.lines)
            assert "Esc Back" in driver.lines[-1]

    drive(manager, steps, size)


def test_who_is_overdue_stands_in_the_order_of_the_plain_command(
    manager: DeskApp, desk: Desk
) -> None:
    shown: list[int] = []

    async def steps(driver: Driver) -> None:
        screen = await register(driver)
        shown.extend(screen.row_list.numbers)

    drive(manager, steps)

    assert shown == [line.follow_up_id for line in lists.overdue(desk)]


def test_one_decision_needs_a_reason_and_is_kept_with_the_name(
    manager: DeskApp, desk: Desk
) -> None:
    first = lists.overdue(desk)[0]

    async def steps(driver: Driver) -> None:
        screen = await register(driver)
        await driver.press("c")
        assert "by quill" in driver.words
        assert first.reference in driver.words
        await driver.press("ctrl+s")
        assert "Nothing is written yet under “Why”." in driver.words
        await driver.type("rang, coming next week")
        await driver.press("ctrl+s")
        assert driver.app.screen is screen
        assert "Carry on" in driver.words

    drive(manager, steps)

    told = [s for s in timeline(desk, first.reference) if "coming next week" in s.says]
    assert [s.by for s in told] == ["quill"]


def test_a_bulk_names_who_is_meant_and_asks_how_many(manager: DeskApp, desk: Desk) -> None:
    """Who is past a latest day is moved alone; these wait for an answer, and may go together."""
    waiting = lists.for_clinician(desk)
    first = next(n for n, line in enumerate(waiting) if line.latest >= desk.today)
    meant = waiting[first : first + 3]

    async def steps(driver: Driver) -> None:
        await register(driver)
        await driver.press("space", "down", "space", "m")
        assert "Move it by itself, not among others" in driver.words
        await driver.press("escape", "i", *["down"] * first)
        await driver.press("space", "down", "up", "space", "space")
        assert "3 lines picked" in driver.words
        assert driver.text.count("✓") == 3
        await driver.press("m")
        for line in meant:
            assert line.reference in driver.words
        assert "Together they may go to" in driver.words
        for text in ("+14", "+21", "+28", "moved together", "2"):
            await driver.type(text)
            await driver.press("enter")
        assert "It is about 3 people, not 2" in driver.words
        await driver.press("backspace", "3", "enter")
        assert "Decided about 3 people" in driver.words

    drive(manager, steps)

    told = [timeline(desk, line.reference) for line in meant]
    assert all(any("moved together" in said.says for said in each) for each in told)


def test_what_is_not_allowed_yet_says_why(manager: DeskApp, desk: Desk) -> None:
    first = lists.overdue(desk)[0]
    assert first.follow_up_id is not None
    (meant,) = decisions.preview(desk, [first.follow_up_id], "informed_decline")
    assert not meant.allowed

    async def steps(driver: Driver) -> None:
        await register(driver)
        await driver.press("d")
        assert "Not allowed yet" in driver.words
        assert "Nobody has recorded that they declined" in driver.words

    drive(manager, steps)


def test_whoever_may_not_decide_is_told_so_before_anything(app: DeskApp, desk: Desk) -> None:
    before = lists.overdue(desk)

    async def steps(driver: Driver) -> None:
        await register(driver)
        await driver.press("c")
        assert driver.where == "ManagerScreen"
        assert "may not" in driver.words

    drive(app, steps)

    assert lists.overdue(desk) == before


def test_a_referral_is_followed_from_sent_to_the_result(manager: DeskApp, desk: Desk) -> None:
    first = next(r for r in referrals(desk, everything=True) if r.urgency == "urgent")

    async def steps(driver: Driver) -> None:
        screen = await register(driver)
        await driver.press("3")
        screen.row_list.mark(screen.row_list.numbers.index(first.referral_id))
        await driver.settle()
        await driver.press("l")
        assert "Draft" in driver.words
        await driver.press("escape", "s", "ctrl+s")
        assert "Sent." in driver.words
        await driver.press("a", "ctrl+s")
        assert "Accepted there." in driver.words
        await driver.press("j", "ctrl+s")
        assert "Nothing is written yet under" in driver.words
        await driver.press("escape", "r")
        await driver.type("no cholesteatoma")
        await driver.press("ctrl+s")
        assert "The result is back." in driver.words

    drive(manager, steps)

    assert first.referral_id not in {r.id for r in person(desk, first.reference).referrals}


def test_what_is_on_the_screen_goes_into_a_file_for_its_owner(manager: DeskApp, desk: Desk) -> None:
    count = len(lists.overdue(desk))

    async def steps(driver: Driver) -> None:
        await register(driver)
        await driver.press("e")
        assert "Written" in driver.words
        await driver.press("7", "e", "6", "e", "8", "e")

    drive(manager, steps)

    folder = desk.config.files.database.parent / "lists"
    names = sorted(file.name.partition("-")[0] for file in folder.iterdir())
    assert names == ["ahead", "jobs", "overdue", "returns"]
    (file,) = folder.glob("overdue-*.csv")
    assert file.stat().st_mode & 0o077 == 0
    with file.open(encoding="utf-8-sig", newline="") as opened:
        assert len(list(csv.DictReader(opened))) == count


def test_the_safety_check_says_whether_it_ran(manager: DeskApp, desk: Desk) -> None:
    async def before(driver: Driver) -> None:
        await register(driver)
        await driver.press("4")
        assert "never ran" in driver.words
        assert "Not known" in driver.words

    drive(manager, before)
    failsafe.run(desk)
    shown = len(checked(desk).shown)

    async def after(driver: Driver) -> None:
        screen = await register(driver)
        await driver.press("4")
        assert len(screen.row_list.numbers) == shown > 0
        assert "must never be" in driver.words

    drive(DeskApp(manager._opening), after)


def test_every_key_of_the_lists_does_something_the_screen_knows() -> None:
    for command in commands_of("manager"):
        name = command.action.partition(".")[2].partition("(")[0]
        assert hasattr(ManagerScreen, f"action_{name}"), command.id


def test_people_are_counted_and_not_what_is_open_for_them() -> None:
    """A decision about two follow-ups of one person and one of another is about two people."""
    meant = [
        SimpleNamespace(
            ref=ref, name="Wren", born=date(2020, 3, 2), what=(what,), allowed=True, prompt="",
            furthest=None, decision="Carry on", because="",
        )
        for ref, what in (("W1", "left ear"), ("W2", "drum"), ("W1", "hearing"))
    ]  # fmt: skip

    sheet = decision_sheet(meant, "carry_on", "quill")

    assert sheet._lines[:3] == [
        "Carry on: 2 people, by quill.",
        "W1  Wren, born 2 Mar 2020: left ear, hearing",
        "W2  Wren, born 2 Mar 2020: drum",
    ]
    assert "type 2," in next(each for each in sheet._fields if each.id == "count").hint


def test_what_was_decided_of_several_is_taken_back_from_all_where_it_was_done(
    manager: DeskApp, desk: Desk
) -> None:
    def decided() -> int:
        return len(rows(desk.store, tables.FollowUpEvent)) - before

    before = len(rows(desk.store, tables.FollowUpEvent))

    async def steps(driver: Driver) -> None:
        await register(driver)
        await driver.press("2", "asterisk", "k")
        people = driver.words.split("Decide ")[1].split(": ")[1].split()[0]
        await driver.type("as talked over")
        await driver.press("tab")
        if "Have you considered that?" in driver.words:
            await driver.press("right", "tab")
        await driver.type(people)
        await driver.press("ctrl+s")
        assert driver.where == "ManagerScreen" and decided() > 1, driver.text
        await driver.press("u")
        assert f"All {people} people" in driver.words
        await driver.press("y")
        assert decided() == 0 and "taken back" in driver.words

    drive(manager, steps)
