"""What concerns everybody at the desk: what failed first, and nothing hidden behind the rest."""

from __future__ import annotations

import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest

from recall.config import load
from recall.desk.practice.timetable import JOBS
from tests.tui.conftest import ON
from tests.tui.driving import Driver, drive
from tui.app import DeskApp

BEFORE = ON - timedelta(days=1)
AT = f"{BEFORE} 09:00:00.000000"
FIVE = (
    "The safety check of 6 September 2026 found 1 that must never be",
    "The job backup for 6 September 2026 failed: The disk is full.",
    "Batch 901 was printed on 6 September 2026 and is not posted",
    "Batch 902 was printed on 6 September 2026 and is not posted",
    "Protocol not yet signed off by this practice",
)
"""Five things at once, in the order in which they are to be said."""


@pytest.fixture
def five(practice: Path) -> None:
    """Let five things be wrong: each is written as its own row, past the program."""
    database = load(practice).files.database
    with sqlite3.connect(database) as file:
        for number in (901, 902):
            file.execute(
                'INSERT INTO batch ("on", recorded_at, by_id, number, week_on, printed_at,'
                " file_name, note) VALUES (?, ?, 1, ?, ?, ?, '', '')",
                (str(BEFORE), AT, number, str(BEFORE), AT),
            )
        for job in JOBS:
            error = "The disk is full." if job == "backup" else ""
            state = "failed" if error else "done"
            file.execute(
                "INSERT INTO job_run (job, for_day, state, started_at, alive_at, recorded_at,"
                " by_id, runner, tries, counts, error)"
                " VALUES (?, ?, ?, ?, ?, ?, 1, 'r', 1, '{}', ?)",
                (job, str(BEFORE), state, AT, AT, AT, error),
            )
        file.execute(
            'INSERT INTO failsafe_run ("on", recorded_at, by_id, people, found)'
            " VALUES (?, ?, 1, 1, 1)",
            (str(BEFORE), AT),
        )
        file.execute(
            "INSERT INTO failsafe_finding (run_id, kind, entity, entity_id, says)"
            " VALUES (last_insert_rowid(), 'not_kept', 'person', 1, 'Not kept.')"
        )


@pytest.mark.usefixtures("five")
def test_of_five_at_once_what_failed_comes_first_and_the_rest_is_counted(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        top = " ".join(line.strip() for line in driver.lines[1:6])
        assert FIVE[0] in top and FIVE[1] in top
        assert "And 3 more: a shows all." in top

        await driver.press("a")

        places = [driver.words.index(words) for words in FIVE]
        assert places == sorted(places)
        await driver.press("escape")
        assert driver.where == "StartScreen"
        await driver.press("f3")
        assert FIVE[0][:30] in driver.lines[1]
        assert "And 4 more: F2." in driver.lines[1]

    drive(app, steps)


@pytest.mark.usefixtures("five")
def test_a_taller_screen_shows_them_all(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        for words in FIVE:
            assert words in driver.words
        assert "more: a shows all" not in driver.words

    drive(app, steps, (120, 40))


def test_with_nothing_said_the_key_says_so(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        driver.app.announce(())
        await driver.press("a")
        assert "Nothing is said at the top." in driver.words

    drive(app, steps)
