"""A post day by keys: written once, read, held back, printed, posted, one comes back."""

from __future__ import annotations

from pathlib import Path

import pytest

from recall.desk.core.session import Desk
from recall.desk.people.deaths import record_death
from recall.desk.post import posting, showing
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.screens.post import PostScreen


async def post(driver: Driver) -> PostScreen:
    """Go to the post."""
    await driver.press("f7")
    screen = driver.app.screen
    assert isinstance(screen, PostScreen)
    return screen


async def write_and_read(driver: Driver, numbers: list[int]) -> None:
    """Write the letters, once, and read the first of them."""
    screen = await post(driver)
    assert "No letters were ever written" in driver.words
    await driver.press("a")
    if driver.where == "TextSheet":
        assert "Nobody can be written to" in driver.words
        await driver.press("escape")
    numbers.extend(screen.row_list.numbers)
    assert numbers
    await driver.press("a")
    assert screen.row_list.numbers == tuple(numbers)
    await driver.press("enter")
    assert "Dear" in driver.words or "To the" in driver.words
    await driver.press("escape")


async def print_and_post(driver: Driver) -> None:
    """Print the batch, post it, and have one letter come back."""
    await driver.press("p")
    assert ".pdf" in driver.words
    await driver.press("m", "enter")
    assert "posted on" not in driver.words
    await driver.press("m", "y")
    assert "is posted" in driver.words
    await driver.press("b", "ctrl+s")
    assert "came back" in driver.words


def test_a_post_day(app: DeskApp, desk: Desk) -> None:
    """Everything from writing to a letter that comes back; nothing is written twice."""
    numbers: list[int] = []

    async def steps(driver: Driver) -> None:
        await write_and_read(driver, numbers)
        await driver.press("h", "ctrl+s")
        assert "Nothing is written yet under “Why”." in driver.words
        await driver.type("ring them first")
        await driver.press("ctrl+s")
        assert "is held back" in driver.words
        await driver.press("down", "h")
        await driver.type("a mistake")
        await driver.press("ctrl+s", "r")
        assert "It goes out with its batch" in driver.words
        await driver.press("m", "y")
        assert "was never printed" in driver.words
        await print_and_post(driver)

    drive(app, steps)

    (batch,) = posting.batches(desk)
    states = {row.letter_id: row.state for row in showing.preview(desk, batch.number)}
    assert states[numbers[0]] == "held back"
    assert states[numbers[1]] == "returned"
    assert set(states.values()) == {"held back", "returned", "posted"}
    assert batch.posted_on == desk.today
    assert len(list(desk.config.files.letters.glob("letters-*.pdf"))) == 1


def test_who_died_meanwhile_comes_off_the_pile(app: DeskApp, desk: Desk) -> None:
    async def steps(driver: Driver) -> None:
        screen = await post(driver)
        await driver.press("a")
        if driver.where == "TextSheet":
            await driver.press("escape")
        await driver.press("p")
        row = screen.row
        assert row is not None
        record_death(desk, row.reference, desk.today, row.name)
        await driver.press("m")
        assert "FIRST take" in driver.words
        assert row.number in driver.words
        await driver.press("y")
        assert "is posted. 1 taken off the pile." in driver.words

    drive(app, steps)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_the_letter_stands_beside_the_list_where_there_is_room(
    app: DeskApp, size: tuple[int, int]
) -> None:
    async def steps(driver: Driver) -> None:
        await post(driver)
        await driver.press("a")
        if driver.where == "TextSheet":
            await driver.press("escape")
        assert ("Our reference" in driver.text) == (size[0] >= 110)
        assert all(len(line) <= size[0] for line in driver.lines)
        assert "1-0001" in driver.text

    drive(app, steps, size)


def test_a_folder_that_cannot_be_written_to_is_told_and_printing_can_be_repeated(
    app: DeskApp, desk: Desk
) -> None:
    folder: Path = desk.config.files.letters

    async def steps(driver: Driver) -> None:
        await post(driver)
        await driver.press("a")
        if driver.where == "TextSheet":
            await driver.press("escape")
        folder.rmdir()
        folder.write_text("in the way")
        await driver.press("p")
        assert "cannot be made" in driver.words
        folder.unlink()
        await driver.press("p")
        assert "on paper" in driver.words

    drive(app, steps)
