"""Whatever happens to the database, there is a sentence, and what was typed stays."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import event

from recall.desk.core.session import Desk
from tests.tui.driving import Driver, drive
from tui.app import DeskApp

TYPED = "rings back after four, ask for the sister"


async def type_a_note(driver: Driver) -> None:
    """Open the calls and type a note without storing it."""
    await driver.press("f3", "n")
    await driver.type(TYPED)


def assert_kept(driver: Driver) -> None:
    assert driver.where == "Form"
    assert TYPED in driver.words
    assert "What you typed is still here." in driver.words


@contextmanager
def pragma(desk: Desk, statement: str) -> Iterator[None]:
    """Let every connection that is opened from now on say something first."""

    def say(connection: sqlite3.Connection, _record: object) -> None:
        connection.execute(statement)

    desk.store.engine.dispose()
    event.listen(desk.store.engine, "connect", say)
    yield
    event.remove(desk.store.engine, "connect", say)
    desk.store.engine.dispose()


def test_locked(app: DeskApp, practice: Path) -> None:
    """Somebody else holds the write lock; once it is free the same key stores."""

    async def steps(driver: Driver) -> None:
        await type_a_note(driver)
        other = sqlite3.connect(practice.with_name("recall.db"))
        other.execute("BEGIN IMMEDIATE")
        with pragma(app.open_desk(), "PRAGMA busy_timeout=50"):
            await driver.press("ctrl+s")
            assert_kept(driver)
            other.rollback()
            other.close()
            await driver.press("ctrl+s")
        assert driver.where == "QueueScreen"
        assert "Noted." in driver.words

    drive(app, steps)


def test_read_only(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await type_a_note(driver)
        with pragma(app.open_desk(), "PRAGMA query_only=ON"):
            await driver.press("ctrl+s")
            assert_kept(driver)
            assert "unexpected" not in driver.words
        await driver.press("ctrl+s")
        assert "Noted." in driver.words

    drive(app, steps)


def test_gone(app: DeskApp, practice: Path) -> None:
    """The file is taken away while the desk is open; it comes back, and nothing was lost."""
    database = practice.with_name("recall.db")
    away = practice.with_name("away.db")

    async def steps(driver: Driver) -> None:
        await type_a_note(driver)
        app.open_desk().store.engine.dispose()
        shutil.move(database, away)
        await driver.press("ctrl+s")
        assert_kept(driver)
        assert "The register is gone: there is no file at" in driver.words
        assert "and no backup is in" in driver.words
        shutil.move(away, database)
        await driver.press("ctrl+s")
        assert "Noted." in driver.words

    drive(app, steps)


def test_newer(app: DeskApp, practice: Path) -> None:
    """Another desk's newer program changed the database: it can be read, and not written."""

    async def steps(driver: Driver) -> None:
        connection = sqlite3.connect(practice.with_name("recall.db"))
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()
        connection.close()
        app.reopen()
        await type_a_note(driver)
        await driver.press("ctrl+s")
        assert_kept(driver)
        assert "newer version" in driver.words

    drive(app, steps)


@pytest.mark.parametrize("key", ["1", "u", "c"])
def test_a_key_that_stores_says_so_on_the_screen(key: str, app: DeskApp, practice: Path) -> None:
    """Keys without a sheet: the sentence stays until something goes right."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3", "1")
        number = driver.app.screen.query_one("RowList").number  # type: ignore[attr-defined]
        with pragma(app.open_desk(), "PRAGMA query_only=ON"):
            await driver.press(key)
            assert driver.where == "QueueScreen"
            assert "The database file may not be written." in driver.words
            assert "unexpected" not in driver.words
            assert driver.app.screen.query_one("RowList").number == number  # type: ignore[attr-defined]

    drive(app, steps)


def test_escape_throws_away_only_at_the_second_time(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await type_a_note(driver)
        await driver.press("escape")
        assert driver.where == "Form"
        assert TYPED in driver.words
        await driver.press("escape")
        assert driver.where == "QueueScreen"

    drive(app, steps)


def test_worse_is_called_recorded_only_once_it_is(app: DeskApp, practice: Path) -> None:
    """Under a lock the sheet says that it is not; Enter tries again, on the same person."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        other = sqlite3.connect(practice.with_name("recall.db"))
        other.execute("BEGIN IMMEDIATE")
        with pragma(app.open_desk(), "PRAGMA busy_timeout=50"):
            await driver.press("w")
            assert driver.where == "HandOver"
            assert "NOT RECORDED" in driver.words
            assert "It is recorded" not in driver.words
            other.rollback()
            other.close()
            await driver.press("enter")
        assert "It is recorded" in driver.words
        assert "NOT RECORDED" not in driver.words
        await driver.press("enter")
        assert driver.where == "QueueScreen"
        assert "urgent" in driver.words

    drive(app, steps)


def test_what_is_typed_while_the_call_is_handed_over_is_said_to_go_nowhere(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "w")
        assert "is kept" not in driver.words
        await driver.press("p", "a", "i", "n", "space")
        assert driver.where == "HandOver"
        assert "Nothing that is typed here is kept" in driver.words
        assert "It is recorded" in driver.words
        await driver.press("enter")
        assert driver.where == "QueueScreen"

    drive(app, steps)


def test_what_was_not_recorded_stays_said_with_the_name(app: DeskApp, practice: Path) -> None:
    """Nor does going on to the next person, or reading the list again, take it away."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        name = driver.app.screen.row.name  # type: ignore[attr-defined]
        other = sqlite3.connect(practice.with_name("recall.db"))
        other.execute("BEGIN IMMEDIATE")
        with pragma(app.open_desk(), "PRAGMA busy_timeout=50"):
            await driver.press("2")
        other.rollback()
        other.close()
        for key in ("down", "r", "up"):
            await driver.press(key)
            assert f"{name}, “Left a message" in driver.words
            assert "was NOT recorded" in driver.words
        await driver.press("2")
        assert "was NOT recorded" not in driver.words

    drive(app, steps)
