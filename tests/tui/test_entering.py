"""Somebody new in one sheet, and somebody put right, by keys."""

from __future__ import annotations

from datetime import date

from recall.desk.core.session import Desk
from recall.desk.people.person_card import find, person
from tests.desk.practice import somebody
from tests.tui.driving import Driver, drive
from tui.app import DeskApp


def test_somebody_new_is_looked_for_and_written_down_from_what_was_searched(
    app: DeskApp, desk: Desk
) -> None:
    about = {"given_names": "Anne", "family_name": "O'Daly", "born": date(1948, 3, 7)}
    somebody(desk, "Z1", adult=False, **about)

    async def steps(driver: Driver) -> None:
        await driver.press("f4")
        await driver.type("ann o'dalaigh [/b] 7/3/1948")
        await driver.press("enter")
        assert "7/3/1948" in driver.words
        await driver.press("up", "ctrl+s")
        assert "This may be Z1 Anne O'Daly, born 7 March 1948" in driver.words
        assert len(find(desk, "dalaigh 1948")) <= 1
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen"
        assert "N-1" in driver.words

    drive(app, steps)

    assert person(desk, "N-1").born == date(1948, 3, 7)


def test_a_birth_date_is_put_right_with_what_it_changes_shown_first(
    app: DeskApp, desk: Desk
) -> None:
    somebody(desk, "Z1", adult=False, born=date(1948, 3, 7), family_name="Ó Dálaig 👂")

    async def steps(driver: Driver) -> None:
        await driver.press("f4")
        await driver.type("Z1")
        await driver.press("enter", "w")
        assert "Put right who they are" in driver.words
        await driver.type("h")
        await driver.press("down", "down", "backspace")
        await driver.type("9")
        await driver.press("down")
        await driver.type("her passport")
        await driver.press("ctrl+s")
        assert "Born 7 Mar 1949 changes in the plan: nothing." in driver.words
        assert person(desk, "Z1").born == date(1948, 3, 7)
        await driver.press("ctrl+s")
        assert driver.where == "PersonScreen"

    drive(app, steps)

    card = person(desk, "Z1")
    assert (card.family_name, card.born) == ("Ó Dálaig 👂h", date(1949, 3, 7))
