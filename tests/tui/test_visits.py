"""A practitioner's day by keys: visits of every kind, on a real register, closed and stored."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from recall.care.ear import Ear, recorded
from recall.clock import Clock
from recall.desk.core.session import Desk
from recall.desk.people.ear_history import ear_history
from recall.desk.people.editing import edit_needs
from recall.desk.people.person_card import person
from recall.desk.people.timeline import timeline
from recall.records import tables
from tests.desk.practice import rows, somebody, visit
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.ears.fields import BY_NAME, FIELDS
from tui.screens.visit import VisitScreen

REF = "T9001"
ADULT = {"born": date(1961, 4, 9), "adult": False, "given_names": "Ivo", "family_name": "Marsh"}


def on_day(desk: Desk, day: date) -> Desk:
    """The same desk on another day."""
    return replace(desk, clock=Clock.at(day))


async def begin(driver: Driver, ref: str = REF) -> VisitScreen:
    """Find the person and begin a visit, by keys alone."""
    await driver.press("f4", "end", *["backspace"] * 8)
    await driver.type(ref)
    await driver.press("enter", "v")
    screen = driver.app.screen
    assert isinstance(screen, VisitScreen)
    return screen


async def answer(driver: Driver, screen: VisitScreen, side: str, **cells: str) -> None:
    """Go to some cells and press their digits."""
    for name, key in cells.items():
        screen.grid.mark(FIELDS.index(BY_NAME[name]), side)  # type: ignore[arg-type]
        await driver.press(key)


async def write(driver: Driver, screen: VisitScreen, side: str, name: str, text: str) -> None:
    """Type a text into a cell."""
    screen.grid.mark(FIELDS.index(BY_NAME[name]), side)  # type: ignore[arg-type]
    await driver.press("enter")
    await driver.type(text)
    await driver.press("enter")


def stored(desk: Desk) -> tuple[Any, dict[str, Ear]]:
    """The last visit of the person, and its findings by ear."""
    known = ear_history(desk, REF)
    last = known.case.visits[-1]
    row = rows(desk.store, tables.Visit, id=known.visit_ids[-1][1])[0]
    return row, {"right": last.right or Ear(), "left": last.left or Ear()}


def test_both_clear_after_wax_takes_four_keys_and_two_to_close(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("c", "3", "0", "3")
        assert "RIGHT now" in driver.text
        assert "LEFT now" in driver.text
        await driver.press("w", "y")
        assert "is closed" in driver.words
        await driver.press("escape")
        assert driver.where == "PersonScreen"

    drive(clinician, steps)

    row, ears = stored(desk)
    assert (row["on"], row["source"]) == (desk.today, "entered")
    assert row["confirmed_by_id"] is not None
    for ear in ears.values():
        assert (ear.wax_found, ear.clearance, ear.wax_left) == ("occluding", "cleared", "none")
        assert (ear.effusion, ear.tensa_grade, ear.perforation) == ("absent", 0, "none")
        assert ear.hearing_dB is None


def test_a_child_with_fluid_and_a_hearing_test(clinician: DeskApp, desk: Desk) -> None:
    """The plan follows the typing: look again early, hearing at three months."""
    somebody(desk, REF)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await answer(driver, screen, "right", wax_found="1", wax_left="0", drum_seen="0")
        assert "fluid:" not in driver.text
        await answer(driver, screen, "right", effusion="2")
        assert "fluid" in driver.words
        await write(driver, screen, "right", "hearing_dB", "30 35 30 35")
        await write(driver, screen, "left", "hearing_dB", "15 15 15 20")
        assert "32.5 dB" in driver.text
        await driver.press("w", "y", "escape")

    drive(clinician, steps)

    _, ears = stored(desk)
    assert ears["right"].hearing_dB == {"500": 30, "1000": 35, "2000": 30, "4000": 35}
    assert ears["left"].effusion is None
    tracks = {t for f in person(desk, REF).follow_ups for t in f.tracks}
    assert {"fluid", "hearing"} <= tracks


def test_what_presses_is_acknowledged_by_name_and_gives_the_draft(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await answer(driver, screen, "left", drum_seen="0", attic_seen="0", keratin="1")
        assert "urgent" in driver.text
        await driver.press("w", "y")
        assert "this must not wait" in driver.words
        await driver.press("enter", "enter", "space", "enter")
        assert driver.where == "Acknowledge"
        await driver.press("backspace")
        await driver.type("nobody")
        await driver.press("enter")
        assert "not the name" in driver.words
        await driver.press(*["backspace"] * 6)
        await driver.type("A. QUILL")
        await driver.press("enter")
        assert driver.where == "ClosedSheet"
        await driver.press("pagedown", "pagedown", "pagedown", "pagedown", "pagedown")
        assert "keratin: yes" in driver.words
        assert "Name: A. Quill" in driver.words
        await driver.press("escape")

    drive(clinician, steps)

    (referral,) = person(desk, REF).referrals
    assert (referral.to, referral.urgency) == ("ent", "urgent")
    assert any("acknowledged by A. QUILL" in s.says for s in timeline(desk, REF))
    page = desk.config.files.letters / f"referral-{referral.id}.pdf"
    assert page.read_bytes().startswith(b"%PDF")


def test_a_letter_that_cannot_be_printed_stops_no_visit(clinician: DeskApp, desk: Desk) -> None:
    """The visit is closed, and the sentence says how to print the letter later."""
    somebody(desk, REF, **ADULT)
    desk.config.files.letters.rmdir()
    desk.config.files.letters.write_text("in the way", "utf-8")

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await answer(driver, screen, "left", drum_seen="0", attic_seen="0", keratin="1")
        await driver.press("w", "y", "enter", "enter", "space")
        await driver.press(*["backspace"] * 8)
        await driver.type("A. QUILL")
        await driver.press("enter")
        assert driver.where == "ClosedSheet"
        assert "No page was made" in driver.words
        await driver.press("escape")

    drive(clinician, steps)

    assert len(person(desk, REF).referrals) == 1


def test_escape_from_what_presses_stores_nothing_and_loses_nothing(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await answer(driver, screen, "left", drum_seen="0", attic_seen="0", keratin="1")
        await driver.press("w", "y", "escape")
        assert driver.app.screen is screen
        assert recorded(screen.form.left)["keratin"] is True  # type: ignore[union-attr]

    drive(clinician, steps)

    assert ear_history(desk, REF).case.visits == ()


def test_a_change_of_side_is_asked_about(clinician: DeskApp, desk: Desk) -> None:
    before = on_day(desk, date(2026, 8, 3))
    number = somebody(before, REF)
    visit(before, number, right=Ear(drum_seen="full", effusion="present"))

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        assert "present" in driver.text
        await answer(driver, screen, "left", drum_seen="0", effusion="2")
        await driver.press("w")
        assert "was in the right ear" in driver.words
        assert "are the sides right?" in driver.words
        await driver.press("n")
        assert driver.app.screen is screen
        await driver.press("w", "y", "escape")

    drive(clinician, steps)

    assert stored(desk)[1]["left"].effusion == "present"


def test_a_blocked_view_is_never_taken_as_clear(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await answer(driver, screen, "right", wax_found="3", clearance="1", wax_left="3")
        await answer(driver, screen, "right", drum_seen="2")
        await answer(driver, screen, "right", effusion="0")
        await driver.press("w")
        assert driver.app.screen is screen
        assert "cannot both be so" in driver.words
        await driver.press("u")
        await driver.press("w", "y", "escape")

    drive(clinician, steps)

    _, ears = stored(desk)
    assert ears["right"].effusion is None
    assert {t for f in person(desk, REF).follow_ups for t in f.tracks} & {"wax", "view"}


def test_another_kind_and_another_date_each_need_a_reason(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("c", "1", "0", "3", "k")
        await driver.press("g", "enter", "ctrl+s")
        assert "needs its reason" in driver.words
        await driver.press("escape", "k", "g", "tab", "tab")
        await driver.type("as the parents asked")
        await driver.press("ctrl+s")
        assert screen.form.category == "grommet_check"  # type: ignore[union-attr]
        assert "yours: as the parents asked" in driver.words
        await driver.press("d")
        if driver.where == "Choose":
            await driver.press("1")
        await driver.press("enter", "enter", "enter", "enter")
        await driver.type("they are away until then")
        await driver.press("ctrl+s", "w", "y", "escape")

    drive(clinician, steps)

    row, _ = stored(desk)
    assert (row["category"], row["category_why"]) == ("grommet_check", "as the parents asked")
    reasons = {d["why"] for d in rows(desk.store, tables.Decision, person_id=row["person_id"])}
    assert reasons == {"as the parents asked", "they are away until then"}


def test_a_note_is_searched_for_words_of_alarm(clinician: DeskApp, desk: Desk) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("c", "0", "0", "0", "n")
        await driver.type("sudden hearing loss [/b] last week")
        await driver.press("ctrl+s", "w")
        assert "sudden hearing loss, which is not recorded" in driver.words
        await driver.press("escape", "s")
        await driver.press("s", "s", "ctrl+s")

    drive(clinician, steps)

    assert ear_history(desk, REF).case.visits == ()


def test_nothing_typed_is_lost_where_another_desk_was_first(clinician: DeskApp, desk: Desk) -> None:
    number = somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("c", "3", "0", "3", "w")
        visit(on_day(desk, date(2026, 9, 1)), number, right=Ear(drum_seen="part"))
        card = person(desk, REF)
        edit_needs(desk, REF, card.version, needs=("large print",))
        await driver.press("y")
        assert "Somebody else changed" in driver.words
        assert screen.form.right.effusion == "absent"  # type: ignore[union-attr]
        await driver.press("escape")
        assert driver.where == "PersonScreen"
        await driver.press("v")
        assert "Taken up where you left it" in driver.words
        await driver.press("w", "y")
        assert "is closed" in driver.words

    drive(clinician, steps)

    assert len(ear_history(desk, REF).case.visits) == 2


def test_whoever_leaves_the_desk_is_told_of_visits_not_closed(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("c", "3", "0", "3", "escape", "escape", "ctrl+q")
        assert REF in driver.words
        await driver.press("n")
        assert driver.app.is_running

    drive(clinician, steps)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_the_course_of_both_ears_is_drawn(
    clinician: DeskApp, desk: Desk, size: tuple[int, int]
) -> None:
    number = somebody(on_day(desk, date(2025, 1, 7)), REF)
    for day, grade in ((date(2025, 1, 7), 0), (date(2025, 9, 1), 1), (date(2026, 6, 1), 2)):
        ear = Ear(
            wax_found="some" if grade else "occluding",
            wax_left="none",
            drum_seen="full",
            effusion="present" if grade else "absent",
            tensa_grade=grade,
            hearing_dB={"500": 20, "1000": 25, "2000": 30, "4000": 35},
        )
        visit(on_day(desk, day), number, right=ear)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("v")
        assert driver.where == "CourseScreen"
        assert "RIGHT EAR" in driver.text
        assert "LEFT EAR" in driver.text
        assert "●" in driver.text
        assert "O28" in driver.text
        await driver.press("left")
        assert "as known on" in driver.words

    drive(clinician, steps, size)


def test_an_earlier_visit_is_put_right_and_another_voided(clinician: DeskApp, desk: Desk) -> None:
    number = somebody(on_day(desk, date(2026, 6, 2)), REF, **ADULT)
    visit(on_day(desk, date(2026, 6, 2)), number, left=Ear(drum_seen="full"))
    visit(on_day(desk, date(2026, 8, 3)), number, left=Ear(drum_seen="full", effusion="present"))

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.press("o", "1")
        assert "is being put right" in driver.words
        await answer(driver, screen, "left", effusion="0")
        await driver.press("w")
        assert "makes the plan milder" in driver.words
        await driver.type("It was wax.")
        await driver.press("enter", "y")
        assert "is closed" in driver.words
        await driver.press("escape", "v", "o", "4")
        await driver.type("somebody else")
        await driver.press("ctrl+s")
        assert "is voided" in driver.words

    drive(clinician, steps)

    (only,) = ear_history(desk, REF).case.visits
    assert only.on == date(2026, 8, 3)
    assert only.left is not None
    assert only.left.effusion == "absent"


def test_keys_typed_faster_than_a_sheet_opens_never_become_findings(
    clinician: DeskApp, desk: Desk
) -> None:
    somebody(desk, REF, **ADULT)

    async def steps(driver: Driver) -> None:
        screen = await begin(driver)
        await driver.type("c303")
        assert driver.app.screen is screen
        assert screen.form is not None
        assert screen.form.left.wax_found == screen.form.right.wax_found == "occluding"
        assert screen.form.left.effusion == "absent"
        before = screen.form
        await driver.type("n333")
        assert screen.form == before

    drive(clinician, steps)
