"""The words for the call hold for whoever is rung, and say nothing to anybody else who answers.

The order (who it is before why; a name and a number only to others and on a machine) is common
practice in health care; no published source is quoted for the words.
"""

from __future__ import annotations

from datetime import date

import pytest

from recall.desk.contacts.contact_points import add_contact_point
from recall.desk.contacts.entries import ContactPoint
from recall.desk.core.session import Desk
from recall.desk.people.editing import Adult, add_adult
from recall.desk.post.call_scripts import script_for
from recall.desk.worklists.call_card import call_cards_of
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, desk_at, open_follow_ups, rows, somebody, visit

ADULT = date(1950, 4, 3)
SILENT = ("hearing", "fluid", "drum", "appointment", "clinic", "patient", "visit", "Wrenfield")
"""What nobody else may hear, and no machine."""


def words(desk: Desk, number: int) -> str:
    visit(desk, number, right=FLUID)
    return script_for(desk, open_follow_ups(desk.store, number)[0]["id"])


def opening(text: str) -> str:
    """What is said before it is known who is there, and what goes on a machine."""
    return text[: text.index("Then: why you call")]


def spoken(text: str) -> list[str]:
    """The sentences that are said as they stand, between quotation marks."""
    return text.split('"')[1::2]


def kinds(desk: Desk, kind: str) -> tuple[int, str]:
    """Make somebody, and return whom the call is for."""
    if kind == "child":
        return somebody(desk), "Ida Thackwell"
    number = somebody(desk, born=ADULT, adult=False)
    if kind == "lacks capacity":
        add_adult(desk, "W1", Adult("Wyn Abel", "carer", instead=True))
        (made,) = rows(desk.store, tables.AdultFor)
        add_contact_point(desk, "W1", ContactPoint("phone", "01632 960555", adult_id=made["id"]))
        return number, "Wyn Abel"
    whose = {"neighbour": "01632 960777 (neighbour)", "home": "01632 960888 (care home, desk)"}
    if kind in whose:
        add_contact_point(desk, "W1", ContactPoint("phone", whose[kind]))
    return number, "Rowan Thackwell"


@pytest.mark.parametrize("kind", ["adult", "child", "lacks capacity", "neighbour", "home"])
def test_they_ask_for_whom_it_is_for_and_tell_nobody_else_why(store: Store, kind: str) -> None:
    desk = desk_at(store, by="clara")
    number, asked = kinds(desk, kind)

    text = words(desk, number)

    assert f"May I speak to {asked}, please?" in text
    assert call_cards_of(desk, "W1")[0].ask_for == asked
    before = [each for each in spoken(opening(text)) if asked not in each]
    assert before == [f"Hello, this is (your name). Please call me on {_ours(desk)}. Thank you."]
    for said in spoken(opening(text)):
        assert not {w for w in SILENT if w.casefold() in said.casefold()}
    if asked != "Rowan Thackwell":
        assert "Rowan" not in opening(text)
    assert "Do not say where you call from, or why." in opening(text)


def _ours(desk: Desk) -> str:
    return desk.config.practice.phone
