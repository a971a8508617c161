"""After a number was struck the work goes on with the next line in order."""

from __future__ import annotations

from sqlalchemy import delete

from recall.desk.contacts.contact_points import add_contact_point
from recall.desk.contacts.entries import ContactPoint
from recall.desk.core.session import Desk
from recall.desk.worklists import call_card, call_lines
from recall.records import tables
from recall.records.tables.statements import table_of
from tests.tui.driving import Driver, drive
from tests.tui.test_calls import calls, stored
from tests.tui.test_numbers import take
from tui.app import DeskApp


def test_a_wrong_number_of_several_does_not_pull_the_others_up(app: DeskApp, desk: Desk) -> None:
    """The first of the list and the last share their only number, which is wrong."""
    order = [line[0].follow_up for line in call_lines.call_lines(desk)]
    cards = [c for c in call_card.call_cards(desk, order) if c.step == "phone" and c.numbers]
    both = cards[0], cards[-1]
    points = table_of(tables.ContactPoint)
    people = [card.person_id for card in both]
    with desk.store.write() as session:
        session.execute(delete(points).where(points.c.person_id.in_(people)))
    for card in both:
        add_contact_point(desk, card.reference, ContactPoint("phone", "01632 960987"))

    async def steps(driver: Driver) -> None:
        await take(driver, cards[0])
        heads = calls(driver).row_list.numbers
        assert cards[-1].follow_up not in heads
        await driver.press("0")
        if driver.where == "Form":
            await driver.press("ctrl+s")
        row = calls(driver).row
        assert row is not None
        assert row.follow_up == heads[heads.index(cards[0].follow_up) + 1]

    drive(app, steps)

    assert [outcome for _n, _c, outcome in stored(desk)] == ["wrong_number"]
