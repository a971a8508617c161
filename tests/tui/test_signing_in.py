"""Signing in at the desk: nothing is shown before, F9 asks, an idle desk locks, nothing is lost."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pytest
from textual.widgets import Input

from recall.clock import Clock
from recall.config import load
from recall.desk.core.proof import Way
from recall.desk.core.session import Desk, open_desk, staff_member
from recall.desk.practice import demo
from recall.desk.signing import hashing, passwords
from recall.desk.signing.proofs import by_password
from recall.records.database.store import Store, open_store
from recall.records.journal import history
from tests.tui.conftest import ON, opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp

GOOD = "four walnuts under snow"
OTHER = "a brass kettle by the river"
MINUTES = 10 * 60.0


def give(store: Store, handle: str, password: str) -> None:
    member = staff_member(store, handle, ON)
    passwords._keep(store, Clock(), member, hashing.hashed(password), member.id)


@pytest.fixture
def locked(practice: Path) -> DeskApp:
    """The desk of a practice in which two have a password, and nobody has signed in."""
    store = open_store(load(practice).files.database)
    for handle, password in ((demo.WHO, GOOD), ("quill", OTHER)):
        give(store, handle, password)
    store.close()

    def signing(handle: str, password: str) -> Desk:
        proof = by_password(handle, password)
        return open_desk(load(practice), on=ON, way=Way("screen", proof))

    return DeskApp(partial(opening, practice, ""), log_folder=practice.parent, signing=signing)


async def sign_in(driver: Driver, handle: str, password: str) -> None:
    field = driver.app.screen.query_one("#f-handle", Input)
    if field.value != handle:
        field.value = ""
        field.focus()
        await driver.settle()
        await driver.type(handle)
        await driver.press("enter")
    await driver.type(password)
    await driver.press("enter")


def test_nothing_is_shown_before_somebody_signed_in(locked: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        assert driver.where == "SignIn"
        for key in ("escape", "f3", "f4", "f9", "ctrl+p", "f1"):
            await driver.press(key)
            assert driver.where == "SignIn"
            assert "Today" not in driver.text and "Calls" not in driver.text
        assert not driver.app.is_open
        await sign_in(driver, demo.WHO, "not this one at all")
        assert "The handle or the password is not right." in driver.words
        assert driver.app.screen.query_one("#f-password", Input).value == ""
        await sign_in(driver, demo.WHO, GOOD)
        assert driver.where == "StartScreen"
        assert driver.lines[0].endswith(demo.WHO)
        assert GOOD not in driver.text
        await driver.press("f3")
        assert driver.where == "QueueScreen"

    drive(locked, steps)


def test_the_password_is_never_shown(locked: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.type(demo.WHO)
        await driver.press("enter")
        await driver.type(GOOD)
        assert "walnuts" not in driver.text and "•" * len(GOOD) in driver.text

    drive(locked, steps)


def test_a_name_alone_makes_no_clinician(locked: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await sign_in(driver, demo.WHO, GOOD)
        await driver.press("f9")
        assert driver.where == "SignIn"
        await sign_in(driver, "quill", GOOD)
        assert "not right" in driver.words and driver.app.acting == demo.WHO
        await driver.press("escape")
        assert driver.where == "StartScreen" and driver.app.acting == demo.WHO
        await driver.press("f9")
        await sign_in(driver, "quill", OTHER)
        assert driver.where == "StartScreen" and driver.app.acting == "quill"
        assert driver.lines[0].endswith("quill")

    drive(locked, steps)


@pytest.mark.parametrize("colours", ["paper", "ansi-dark"])
def test_an_idle_desk_hides_what_it_shows_and_loses_nothing(locked: DeskApp, colours: str) -> None:
    locked._colours = colours

    async def steps(driver: Driver) -> None:
        await sign_in(driver, demo.WHO, GOOD)
        driver.app.theme = colours
        await driver.press("n")
        await driver.type("Quenby")
        sheet = driver.app.screen
        assert "Quenby" in driver.text
        driver.clock.move(MINUTES - 5)
        await driver.settle()
        await driver.type("x")
        driver.clock.move(MINUTES - 5)
        await driver.settle()
        assert driver.app.screen is sheet, "a key puts it off"
        driver.clock.move(10)
        await driver.settle()
        assert driver.where == "SignIn"
        assert "Quenby" not in driver.text and "Today" not in driver.text
        await driver.press("escape", "ctrl+q")
        assert driver.where == "SignIn" and "sign in" in driver.words
        driver.app.notify("Stored: Quenby")
        await driver.settle()
        assert "Quenby" not in driver.text
        await sign_in(driver, "quill", OTHER)
        assert driver.app.screen is sheet and "Quenbyx" in driver.text
        assert driver.app.acting == "quill"

    drive(locked, steps)


def test_what_opens_over_the_lock_is_hidden_too(locked: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        from tui.dialogs.ask import Ask

        await sign_in(driver, demo.WHO, GOOD)
        driver.app.lock()
        await driver.settle()
        driver.app.push_screen(Ask("About Quenby?"))
        await driver.settle()
        assert driver.where == "SignIn" and "Quenby" not in driver.text
        await sign_in(driver, demo.WHO, GOOD)
        assert driver.where == "Ask"
        await driver.press("n")
        assert driver.where == "StartScreen"

    drive(locked, steps)


def test_an_idle_desk_that_asks_for_no_password_stays_open(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        driver.clock.move(MINUTES * 20)
        await driver.settle()
        assert driver.where == "StartScreen"

    drive(app, steps)


def test_what_is_done_is_done_by_whoever_signed_in(locked: DeskApp, practice: Path) -> None:
    async def steps(driver: Driver) -> None:
        await sign_in(driver, demo.WHO, GOOD)
        await driver.press("f4")
        await driver.type("a")
        await driver.press("enter")
        assert driver.where == "PersonScreen"

    before = datetime.now(UTC)
    drive(locked, steps)
    store = open_store(load(practice).files.database)
    looks = _looks(store)
    assert history.verify(store) == ()
    store.close()
    ((at, handle, place),) = looks
    assert (handle, place) == (demo.WHO, "screen") and before <= at


def _looks(store: Store) -> list[tuple[datetime, str, str]]:
    from sqlalchemy import select

    from recall.records import tables

    looked, s = tables.Looked, tables.Staff
    with store.read() as session:
        wanted = select(looked.at, s.handle, looked.place).join(s, s.id == looked.by_id)
        return [(row.at, row.handle, row.place) for row in session.execute(wanted)]
