"""The practice's own count of a day's appointments, held against the bookings here.

Common practice, no published source: two books that should say the same are compared by count.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from sqlalchemy import select

from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking, MoveTo
from recall.desk.oversight.notices import announcements
from recall.desk.worklists.diary import counted, say_count
from recall.errors import InputError
from recall.records import tables
from recall.records.database.store import Store
from recall.records.journal import history
from tests.desk.practice import desk_at, later

ON = date(2026, 9, 29)
SAID = (
    "Tuesday 29 September 2026: The diary has 3, here is 1. recall appointments --day 2026-09-29."
)


@pytest.fixture
def booked(store: Store, follow_up: dict) -> int:
    """One appointment at ten."""
    entry = Booking(datetime(ON.year, ON.month, ON.day, 10), 30, "clara", "later")
    made = bookings.book(desk_at(store), follow_up["id"], None, entry).made
    assert made is not None
    return made


def told(store: Store, on: date | None = None) -> list[str]:
    desk = desk_at(store)
    desk = later(desk, (on - desk.today).days) if on else desk
    return [said for said in announcements(desk) if "The diary" in said]


def test_today_says_a_count_that_differs_until_it_agrees(store: Store, booked: int) -> None:
    desk = desk_at(store)
    assert told(store) == []
    assert say_count(desk, 3, ON).words == "Tuesday 29 September 2026: The diary has 3, here is 1."
    assert told(store) == [SAID]
    assert "as many as here" in say_count(desk, 1, ON).words
    assert told(store) == []


def test_what_is_moved_to_another_day_is_counted_there(store: Store, booked: int) -> None:
    desk, next_day = desk_at(store), ON + timedelta(days=1)
    say_count(desk, 1, ON)
    say_count(desk, 1, next_day)
    there = datetime(next_day.year, next_day.month, next_day.day, 10)
    bookings.move(desk, booked, MoveTo(there, why_late="away until then"), "person")

    found = [counted(desk, day) for day in (ON, next_day)]
    assert [(each.diary, each.here) for each in found if each] == [(1, 0), (1, 1)]


def test_what_is_called_off_is_counted_no_longer(store: Store, booked: int) -> None:
    desk = desk_at(store)
    say_count(desk, 1, ON)
    bookings.cancel(desk, booked, "person", "not well")

    found = counted(desk, ON)
    assert found is not None
    assert (found.here, found.words) == (0, "The diary has 1, here are 0.")
    assert len(told(store)) == 1


def test_it_is_said_for_a_week_after_the_day(store: Store, booked: int) -> None:
    say_count(desk_at(store), 3, ON)
    assert told(store, ON + timedelta(days=7)) == [SAID]
    assert told(store, ON + timedelta(days=8)) == []


def test_both_counts_stay_on_record_and_the_history_is_whole(store: Store, booked: int) -> None:
    desk = desk_at(store)
    say_count(desk, 3, ON)
    say_count(desk, 4, ON)

    c = tables.DiaryCount
    with store.read() as session:
        rows = session.execute(select(c.appointments, c.void_why).order_by(c.id)).all()
        lines = session.scalars(
            select(tables.History.what).where(tables.History.entity == "diary_count")
        ).all()
    assert [tuple(row) for row in rows] == [(3, "counted again"), (4, None)]
    assert list(lines) == ["added", "voided", "added"]
    assert history.verify(store) == ()


@pytest.mark.parametrize("count", [-1, 1001, 2**70])
def test_no_count_of_a_day_is_refused(store: Store, count: int) -> None:
    with pytest.raises(InputError, match="no number of appointments"):
        say_count(desk_at(store), count, ON)
    assert counted(desk_at(store), ON) is None
