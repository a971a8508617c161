"""People whose names hold markup, another direction, or no end, through every screen."""

from __future__ import annotations

import pytest

from recall.desk.core.session import Desk
from recall.desk.people import person_card
from recall.desk.worklists import call_card
from tests.tui.conftest import HOSTILE
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.words.text import plain


def refs(desk: Desk) -> dict[str, str]:
    """Return the references of the people with hostile names, by family name."""
    found = {}
    for given, family in HOSTILE:
        words = [w for w in plain(f"{given} {family}").split() if w.isalpha() and len(w) > 2]
        for text in (*words, family):
            for row in person_card.find(desk, text, 30):
                if row.family_name == family:
                    found[family] = row.ref
    return found


def test_all_of_them_are_there(desk: Desk) -> None:
    assert len(refs(desk)) >= 3


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_names_show_as_they_are(size: tuple[int, int], app: DeskApp, desk: Desk) -> None:
    """On the person's screen, on every sheet, and with notes as hostile as the names."""
    known = refs(desk)

    async def steps(driver: Driver) -> None:
        few = list(known.items())[: 5 if size == (80, 24) else 2]
        for family, ref in few:
            await driver.press("f4", "end", *["backspace"] * 8)
            await driver.type(ref.lower())
            assert any(plain(family)[:8] in line for line in driver.lines), driver.text
            await driver.press("enter")
            assert driver.where == "PersonScreen"
            assert plain(family)[:20] in driver.text
            for key in ("1", "2", "3", "4", "5"):
                await driver.press(key)
            for key in ("c", "n", "r", "a", "o", "x", "p"):
                await driver.press(key)
                assert driver.where in ("Choose", "Form")
                await driver.press("escape")
            await driver.press("escape")

    drive(app, steps, size)


def test_hostile_words_are_stored_and_shown_as_typed(app: DeskApp, desk: Desk) -> None:
    """A note, a reason and a message that hold markup come back as they were typed."""
    typed = "[/b] [red]x[/] {0} %s \\n مريم 👂 [Jr"

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        name = driver.app.screen.row.reference  # type: ignore[attr-defined]
        await driver.press("n")
        await driver.type(typed)
        await driver.press("enter")
        assert driver.where == "QueueScreen"
        await driver.press("enter", "5")
        assert typed in driver.words
        assert person_card.person(desk, name).notes[0].words == typed
        await driver.press("escape", "s")
        await driver.type(typed)
        await driver.press("ctrl+s")
        assert typed in driver.words

    drive(app, steps)


def test_hostile_people_in_the_calls(app: DeskApp, desk: Desk) -> None:
    """The list, the call card and every sheet, for whoever of them is to be called."""
    families = {family for _given, family in HOSTILE}
    wanted = [
        s.follow_up
        for s in call_card.call_cards(desk, call_card.order(desk))
        if s.family_name in families
    ]

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        row_list = driver.app.screen.row_list  # type: ignore[attr-defined]
        for number in wanted:
            row_list.mark(row_list.numbers.index(number))
            await driver.settle()
            for key in ("b", "n", "s", "x", "6"):
                await driver.press(key)
                assert driver.where == "Form"
                await driver.press("escape", "escape")
            await driver.press("1")

    drive(app, steps)
