"""Visits, the course, the register and the post: how they look, hostile names, random keys."""

from __future__ import annotations

import random
from datetime import date

import pytest
from sqlalchemy import select, update

from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.records.tables import Person, Visit
from tests.desk.practice import somebody, visit
from tests.tui.conftest import HOSTILE
from tests.tui.driving import Driver, drive
from tests.tui.test_captures import SIZES, compare
from tests.tui.test_random_keys import ALL, KEYS, assert_nothing_unexpected, assert_whole
from tests.tui.test_visits import REF, begin, on_day
from tui.app import DeskApp
from tui.words.text import plain

OPEN: dict[str, tuple[str, ...]] = {
    "visit-begun": (),
    "visit-clear": ("c",),
    "visit-cleared": ("c", "3", "0", "3"),
    "visit-pressing": ("c", "3", "0", "3", *["down"] * 20, "1"),
    "visit-close": ("c", "3", "0", "3", "w"),
    "visit-said": ("s",),
    "visit-kind": ("c", "3", "0", "3", "k"),
    "course": ("v",),
    "course-hearing": ("v", "a"),
}
"""Keys from a begun visit."""
LISTS: dict[str, tuple[str, ...]] = {
    "register-overdue": ("f6", "1"),
    "register-lost": ("f6", "2"),
    "register-referrals": ("f6", "3"),
    "register-ahead": ("f6", "6"),
    "register-returns": ("f6", "7"),
    "register-jobs": ("f6", "8"),
    "register-rules": ("f6", "9"),
    "register-decide": ("f6", "1", "space", "space", "c"),
    "post": ("f7", "a"),
    "post-letter": ("f7", "enter"),
}


def with_a_past(desk: Desk, ref: str = REF, **more: object) -> None:
    """A child seen three times, with fluid, a retraction and wax."""
    number = somebody(on_day(desk, date(2025, 1, 7)), ref, **more)
    told = (
        (date(2025, 1, 7), "occluding", "absent", 0, 15),
        (date(2025, 9, 1), "some", "present", 1, 30),
        (date(2026, 6, 1), "partial", "present", 1, 35),
    )
    for day, wax, effusion, grade, level in told:
        right = Ear(
            wax_found=wax,
            wax_left="none",
            drum_seen="full",
            attic_seen=True,
            effusion=effusion,
            tensa_grade=grade,
            hearing_dB={"500": level, "1000": level, "2000": level, "4000": level},
        )
        left = Ear(wax_found="none", drum_seen="full", effusion="absent")
        visit(on_day(desk, day), number, right=right, left=left)


def came_before_the_history(desk: Desk) -> None:
    """Let what the test put in itself count as rows from before the history numbered any."""
    with desk.store.write() as session:
        mine = Person.ref.startswith(REF)
        visits = Visit.person_id.in_(select(Person.id).where(mine))
        session.execute(update(Person.__table__).where(mine).values(recorded_no=0))
        session.execute(update(Visit.__table__).where(visits).values(recorded_no=0))


@pytest.mark.parametrize("size", SIZES)
def test_visits_look_as_they_did(size: str, app: DeskApp, desk: Desk) -> None:
    with_a_past(desk)
    seen: dict[str, str] = {}

    async def steps(driver: Driver) -> None:
        for name, keys in OPEN.items():
            await begin(driver)
            await driver.press(*keys)
            await driver.rest()
            seen[name] = driver.text
            await home(driver)

    drive(app, steps, SIZES[size])

    for name, text in seen.items():
        compare(name, size, text)


@pytest.mark.parametrize("size", SIZES)
def test_lists_look_as_they_did(size: str, app: DeskApp) -> None:
    seen: dict[str, str] = {}

    async def steps(driver: Driver) -> None:
        for name, keys in LISTS.items():
            await driver.press(*keys)
            await driver.rest()
            seen[name] = driver.text
            await home(driver)

    drive(app, steps, SIZES[size])

    for name, text in seen.items():
        compare(name, size, text)


async def home(driver: Driver) -> None:
    """Go back to Today, and forget the visit that was begun."""
    await driver.press(*["escape"] * 6)
    assert len(driver.app.screen_stack) == 1
    driver.app.begun.clear()


def test_names_show_as_they_are(app: DeskApp, desk: Desk) -> None:
    """Through a whole visit, its sheets, its closing, and the course."""
    for n, (given, family) in enumerate(HOSTILE):
        with_a_past(desk, f"{REF}{n}", given_names=given, family_name=family)

    async def steps(driver: Driver) -> None:
        for n, (given, family) in enumerate(HOSTILE):
            await begin(driver, f"{REF}{n}")
            assert plain(given)[:6] in driver.text
            await driver.press("n")
            await driver.type(given + family)
            await driver.press("ctrl+s", "c", "3", "0", "3", "k", "escape", "v")
            assert plain(given)[:6] in driver.text
            await driver.press("escape", "w", "y")
            assert driver.where in ("ClosedSheet", "Acknowledge")
            await home(driver)

    drive(app, steps)


def test_no_keys_break_a_visit(app: DeskApp, desk: Desk) -> None:
    with_a_past(desk)
    came_before_the_history(desk)
    picked = random.Random("wrenfield visit")

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("c", "2", "0", "3")
        pressed: list[str] = []
        for _ in range(max(1, KEYS // 3)):
            pressed.append(picked.choice(ALL))
            await driver.press(pressed[-1])
            assert driver.app.is_running, pressed
            assert_nothing_unexpected(driver, pressed)
        for _ in range(14):
            await driver.press("escape")
        assert len(driver.app.screen_stack) == 1, pressed

    drive(app, steps)

    assert_whole(desk)
