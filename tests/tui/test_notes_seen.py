"""A note is seen where it matters: beside the number, on the person, before a visit closes."""

from __future__ import annotations

from recall.desk.contacts import contacting
from recall.desk.core.session import Desk
from recall.desk.people.editing import edit_details
from recall.records import tables
from tests.desk.practice import open_follow_ups, rows
from tests.tui.driving import Driver, drive
from tests.tui.test_clinic_screens import with_a_past
from tests.tui.test_numbers import first_to_ring, take
from tests.tui.test_visits import REF, begin
from tui.app import DeskApp

NOTE = "Works nights [/b] {0} 👂"
WARNING = "Speak slowly and face her"


def test_what_was_written_down_is_seen_on_the_person_and_before_a_visit_is_closed(
    app: DeskApp, desk: Desk
) -> None:
    with_a_past(desk)
    edit_details(desk, REF, None, caller_note=WARNING)
    (row,) = rows(desk.store, tables.Person, ref=REF)
    contacting.note(desk, open_follow_ups(desk.store, row["id"])[0]["id"], NOTE)

    async def steps(driver: Driver) -> None:
        await begin(driver)
        await driver.press("c", "3", "0", "3", "w")
        assert f"Before contact: {WARNING}" in driver.words
        assert "Note, 7 Sep 2026: Works nights [/b] {0}" in driver.words
        await driver.press("n", "escape")
        assert driver.where == "PersonScreen"
        assert f"Before contact: {WARNING}" in driver.words
        assert "Works nights [/b] {0}" in driver.words

    drive(app, steps)


def test_what_was_written_down_stands_on_the_call_card_beside_the_number(
    app: DeskApp, desk: Desk
) -> None:
    card = first_to_ring(desk)
    contacting.note(desk, card.follow_up, NOTE)

    async def steps(driver: Driver) -> None:
        await take(driver, card)
        note = next(line for line in driver.lines if line.startswith(" Note"))
        assert "7 September 2026: Works nights [/b] {0}" in note

    drive(app, steps)
