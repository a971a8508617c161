"""The first screen: a first start, and a register that cannot be opened."""

from __future__ import annotations

import shutil
import sqlite3
import tomllib
from functools import partial
from pathlib import Path
from threading import Event

from recall.clock import Clock
from recall.config import load
from recall.desk.core.session import JOBS, Desk, open_desk
from recall.desk.oversight.glance import glance
from recall.desk.practice import demo_files
from recall.desk.practice.setting_up import set_up
from tests.tui.conftest import ON, opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.screens.changeover import ChangeoverScreen


def test_today_says_how_much_there_is(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        assert "people to reach today" in driver.words
        assert "overdue, booked or not" in driver.words
        assert "Protocol not yet signed off" in driver.words
        assert "The jobs have never run here" in driver.words
        await driver.press("enter")
        assert driver.where == "QueueScreen"
        await driver.press("escape")
        assert driver.where == "StartScreen"

    drive(app, steps)


def test_the_counts_are_there_before_the_register_is_open(practice: Path) -> None:
    """Whoever starts the desk sees the day's counts while the protocol is still being read."""
    may_open = Event()

    def late() -> Desk:
        assert may_open.wait(30)
        return opening(practice)

    async def steps(driver: Driver) -> None:
        while "people to reach today" not in driver.words:
            await driver.pilot.pause(0.01)
        assert driver.app.today is None
        assert "Protocol not yet signed off" not in driver.words
        may_open.set()
        await driver.settle()
        assert driver.app.today == ON
        assert "Protocol not yet signed off" in driver.words

    glancing = partial(glance, load(practice), ON)
    drive(DeskApp(late, glancing=glancing), steps, settled=False)


def test_a_register_that_no_glance_can_count_is_said_by_the_opening(tmp_path: Path) -> None:
    path = demo_files.lay_out(tmp_path)

    async def steps(driver: Driver) -> None:
        assert "There is no database at" in driver.words

    glancing = partial(glance, load(path), ON)
    drive(DeskApp(partial(by_the_jobs, path), log_folder=tmp_path, glancing=glancing), steps)


def empty(tmp_path: Path) -> Path:
    """Set up a register that holds nobody."""
    path = demo_files.lay_out(tmp_path)
    set_up(load(path))
    return path


def by_the_jobs(path: Path) -> Desk:
    return open_desk(load(path), by=JOBS, clock=Clock.at(ON))


def test_a_first_start_takes_the_files_in(tmp_path: Path, made_practice: Path) -> None:
    """With an empty register the first line leads through the import."""
    path = empty(tmp_path)
    files = tmp_path / "files"
    files.mkdir()
    for file in made_practice.glob("*.csv"):
        shutil.copyfile(file, files / file.name)

    async def steps(driver: Driver) -> None:
        assert "The register is empty" in driver.words
        await driver.press("enter")
        assert driver.where == "Form"
        await driver.press("ctrl+u")
        await driver.type(str(tmp_path / "nowhere"))
        await driver.press("ctrl+s")
        assert "is in" in driver.words
        assert "nowhere" in driver.words
        await driver.press("ctrl+u")
        await driver.type(str(files))
        await driver.press("ctrl+s")
        for name in ("people", "visits", "contacts", "bookings"):
            assert f"{name}.csv: nothing has landed yet" in driver.words
            assert "It would add" in driver.words
            assert "It would take nothing away." in driver.words
            await driver.type("yes")
            await driver.press("ctrl+s")
        assert driver.where == "StartScreen"
        assert "visits not confirmed yet" in driver.words
        assert "The register is empty" not in driver.words

    drive(DeskApp(partial(by_the_jobs, path), log_folder=tmp_path), steps)


def in_folder(tmp_path: Path, **files: str) -> Path:
    folder = tmp_path / "files"
    folder.mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


async def give(driver: Driver, folder: Path) -> None:
    """Name the folder on the sheet that a first start offers."""
    await driver.press("enter", "ctrl+u")
    await driver.type(str(folder))
    await driver.press("ctrl+s")


def test_a_first_start_guesses_at_headings_and_words_that_are_not_ours(tmp_path: Path) -> None:
    path = empty(tmp_path)
    rows = "C1;Zoëga;Ida;25/03/1960;F", "C2;Ash;Ida;25/03/1960;Fem"
    text = "\n".join(("Chart No;Surname;Forename;DOB;Gender", *rows, ""))
    folder = in_folder(tmp_path, people=text)

    async def steps(driver: Driver) -> None:
        await give(driver, folder)
        assert "Its headings or words are not ours" in driver.words
        assert "born from DOB" in driver.words
        assert "Not known: Fem" in driver.words
        await driver.type("perhaps")
        await driver.press("ctrl+s")
        assert "Nothing has landed: type yes, or no." in driver.words
        await driver.press("ctrl+u")
        await driver.type("yes")
        await driver.press("ctrl+s")
        assert "It would add 1, change 0, leave 0 as they are and send 1 back." in driver.words

    drive(DeskApp(partial(by_the_jobs, path), log_folder=tmp_path), steps)
    written = tomllib.loads((folder / "people-mapping.toml").read_text("utf-8"))
    assert written["import"]["people"]["headings"]["born"] == "DOB"


def test_a_first_start_takes_nothing_away_without_its_number(tmp_path: Path) -> None:
    path = empty(tmp_path)
    headings = "reference,given_name,family_name,born,phone\n"
    folder = in_folder(tmp_path, people=f"{headings}C1,Ida,Thackwell,1960-03-25,01632 960321\n")
    less = f"{headings}C1,Ida,Thackwell,1960-03-25,\n"

    async def steps(driver: Driver) -> None:
        await give(driver, folder)
        assert "given_name Ida" in driver.words
        await driver.type("yes")
        await driver.press("ctrl+s")
        in_folder(tmp_path, people=less)
        driver.app.screen.action_take_in()
        await driver.settle()
        await driver.press("ctrl+u")
        await driver.type(str(folder))
        await driver.press("ctrl+s")
        assert "It would take away 1" in driver.words and "C1" in driver.words
        await driver.type("yes")
        await driver.press("ctrl+s")
        assert "Nothing has landed: type 1, or no." in driver.words
        await driver.press("ctrl+u")
        await driver.type("no")
        await driver.press("ctrl+s")
        assert driver.where == "StartScreen"
        assert "people: left out" in driver.words

    drive(DeskApp(partial(by_the_jobs, path), log_folder=tmp_path), steps)


def test_a_first_start_asks_which_comes_first_in_dates_that_fit_both_ways(tmp_path: Path) -> None:
    path = empty(tmp_path)
    text = "reference,given_name,family_name,born\nC1,Ida,Thackwell,03/04/1960\n"
    folder = in_folder(tmp_path, people=text)

    async def steps(driver: Driver) -> None:
        await give(driver, folder)
        assert "its dates fit both ways" in driver.words
        await driver.press("ctrl+s")
        assert "born 1960-04-03" in driver.words
        await driver.type("yes")
        await driver.press("ctrl+s")
        assert driver.where == "StartScreen"

    drive(DeskApp(partial(by_the_jobs, path), log_folder=tmp_path), steps)


def test_the_demo_is_one_key_away(tmp_path: Path) -> None:
    app = DeskApp(partial(by_the_jobs, empty(tmp_path)), log_folder=tmp_path)

    async def steps(driver: Driver) -> None:
        await driver.press("2")

    drive(app, steps)

    assert app.return_value == "demo"


def test_no_configuration_is_a_sentence_with_a_next_step(tmp_path: Path) -> None:
    app = DeskApp(partial(opening, tmp_path / "recall.toml"), log_folder=tmp_path)

    async def steps(driver: Driver) -> None:
        assert "The configuration cannot be used yet" in driver.words
        assert "There is no configuration file" in driver.words
        assert "Copy config.example.toml" in driver.words

    drive(app, steps)


def test_no_database_can_be_made_from_here(tmp_path: Path) -> None:
    path = demo_files.lay_out(tmp_path)
    making = partial(set_up_of, path)
    app = DeskApp(partial(by_the_jobs, path), log_folder=tmp_path, setting_up=making)

    async def steps(driver: Driver) -> None:
        assert "There is no database at" in driver.words
        await driver.press("2")
        assert "The register is empty" in driver.words

    drive(app, steps)


def set_up_of(path: Path) -> object:
    return set_up(load(path))


def test_a_database_of_another_version_is_said(practice: Path, app: DeskApp) -> None:
    _sql(practice.with_name("recall.db"), "UPDATE alembic_version SET version_num = '0001'")

    async def steps(driver: Driver) -> None:
        assert "The database is at revision 0001" in driver.words
        assert "recall upgrade" in driver.words

    drive(app, steps)


def test_what_is_no_database_is_said(practice: Path, app: DeskApp) -> None:
    practice.with_name("recall.db").write_bytes(b"not a database, whatever its name" * 99)

    async def steps(driver: Driver) -> None:
        assert "The register cannot be used yet" in driver.words
        assert "unexpected" not in driver.words

    drive(app, steps)


def test_every_area_is_reached_and_left_by_one_key(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        for key, where in (("f3", "QueueScreen"), ("f4", "FindScreen")):
            await driver.press(key)
            assert driver.where == where
            await driver.press("f2")
            assert driver.where == "StartScreen"

    drive(app, steps)


def test_f2_is_today_whatever_was_left_open_above_it(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        driver.app.push_screen(ChangeoverScreen())
        await driver.settle()
        for away in ("f3", "f4"):
            await driver.press(away, "f2")
            assert driver.where == "StartScreen"

    drive(app, steps)


def test_help_explains_the_screen_one_is_on(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        for area, title in (("f2", "Help: Today"), ("f3", "Help: Calls"), ("f4", "Help: Find")):
            await driver.press(area, "f1")
            assert driver.where == "Help"
            assert title in driver.text
            await driver.press("escape")

    drive(app, steps)


def test_another_person_takes_the_desk_over(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f9")
        assert "lund" in driver.text
        place = next(line for line in driver.lines if "lund" in line).split()[1]
        await driver.press(place)
        assert driver.app.acting == "lund"
        assert driver.lines[0].endswith("lund")

    drive(app, steps)


def test_commands_are_looked_for_on_a_sheet_and_done(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "ctrl+p")
        assert driver.where == "FindCommand"
        await driver.type("all outc")
        assert ". All outcomes Calls" in driver.words
        assert "Show every outcome with its key" in driver.words
        await driver.press("enter")
        assert driver.app.screen.every_outcome  # type: ignore[attr-defined]
        await driver.press("ctrl+p")
        await driver.type("nosuchthing")
        assert "No command here is called so." in driver.words
        await driver.press("escape")
        assert driver.where == "QueueScreen"

    drive(app, steps)


def test_ctrl_q_leaves_from_any_sheet_and_asks_where_one_is_half_filled(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "n")
        await driver.type("rang [/b")
        await driver.press("ctrl+q")
        assert "Leave, and lose this?" in driver.words
        assert "A sheet that is half filled" in driver.words
        await driver.press("ctrl+q")
        assert "Answer this first" in driver.words
        await driver.press("n")
        assert "rang [/b" in driver.words
        await driver.press("escape", "escape", "f1", "ctrl+q")
        assert not driver.app.is_running or driver.app._exit

    drive(app, steps)


def _sql(path: Path, statement: str) -> None:
    connection = sqlite3.connect(path)
    connection.execute(statement)
    connection.commit()
    connection.close()
