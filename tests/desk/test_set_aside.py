"""One row that cannot be read costs that person's line, loudly, and nobody else's."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.oversight.alarm import Alarm
from recall.desk.oversight.notices import announcements
from recall.desk.people.ear_history import ear_history
from recall.desk.worklists import lists
from recall.desk.worklists.day_list import Part
from recall.records import tables
from recall.records.database.odd import Unreadable
from recall.records.database.store import Store, open_store
from tests.desk.practice import DAY, FLUID, desk_at, open_follow_ups, rows, somebody, visit

LATER = DAY + timedelta(days=120)
"""Whoever was seen on the day is long overdue."""
ODD = {
    "a birth date": ("UPDATE person SET born = '20xx' WHERE ref = 'W1'", "row 1 of person"),
    "findings": ("UPDATE findings SET content = '{' WHERE visit_id = 1", "of findings"),
    "the day of a step": (
        "UPDATE follow_up SET next_step_on = 'soon' WHERE person_id = 1",
        "of follow_up",
    ),
    "what was reported": ("UPDATE visit SET reported = '[' WHERE person_id = 1", "row 1 of visit"),
    "a number": (
        "UPDATE contact_point SET checked_on = 'x' WHERE person_id = 1",
        "of contact_point",
    ),
}


@pytest.fixture
def desk(store: Store) -> Desk:
    """Two children who are overdue."""
    found = desk_at(store)
    for ref in ("W1", "W2"):
        visit(found, somebody(found, ref), right=FLUID)
    return found


def damaged(desk: Desk, statement: str) -> Desk:
    """The same register with a row that was changed by hand, opened anew, much later."""
    desk.store.close()
    with closing(sqlite3.connect(desk.store.path)) as connection:
        assert connection.execute(statement).rowcount > 0
        connection.commit()
    return desk_at(open_store(desk.store.path), LATER, by="clara")


def whose(desk: Desk) -> list[str]:
    """Return the references of who is overdue."""
    return [line.reference for line in lists.overdue(desk, Part(20))]


@pytest.mark.parametrize("what", ODD)
def test_the_others_are_listed_and_who_cannot_be_read_is_named(desk: Desk, what: str) -> None:
    statement, row = ODD[what]
    later = damaged(desk, statement)
    try:
        assert "W2" in whose(later)
        ear_history(later, "W2")
        with pytest.raises(Unreadable, match=f"record of W1: .*{row} cannot be read"):
            ear_history(later, "W1")
        (said,) = [s for s in announcements(later) if "cannot be read" in s]
        assert isinstance(said, Alarm) and "W1" in said and row in said
        assert whose(later) == ["W2"]
    finally:
        later.store.close()


def test_work_goes_on_for_the_others_and_nothing_of_the_odd_row_is_changed(desk: Desk) -> None:
    later = damaged(desk, ODD["a birth date"][0])
    assert whose(later) == ["W2"]
    (row,) = open_follow_ups(later.store, 2)
    contacting.log_contact(later, row["id"], None, Attempt("phone", "no_answer"))
    assert len(rows(later.store, tables.Contact)) == 1
    later.store.close()
    with closing(sqlite3.connect(later.store.path)) as connection:
        assert connection.execute("SELECT born FROM person WHERE ref = 'W1'").fetchone() == (
            "20xx",
        )
        assert connection.execute("SELECT count(*) FROM temp.sqlite_master").fetchone() == (0,)


def test_a_value_that_is_wrong_in_code_is_no_damage_of_the_register(desk: Desk) -> None:
    with pytest.raises(ValueError, match="of our own"), desk.store.read():
        raise ValueError("of our own")
    assert desk.store.aside == {}
