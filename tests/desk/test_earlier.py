"""Who is rung first when a time falls free: the order and who is left out.

Common practice, no source found: the most urgent first, then whose latest day is the nearest.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from sqlalchemy import select, update

from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.people import editing
from recall.desk.worklists.earlier import freed
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, desk_at, later, open_follow_ups, rows, somebody, visit
from tests.desk.two_sites import at, take_on, three_children

FREED = datetime(2026, 11, 24, 10)


@pytest.fixture
def called_off(store: Store) -> int:
    """An appointment of somebody, called off by them, in the window of all the others."""
    made = booked(store, "W1", FREED, "")
    bookings.cancel(desk_at(store), made, "person", "ill")
    return made


def booked(
    store: Store, ref: str, starts: datetime, earlier: str, minutes: int = 20, with_: str = "clara"
) -> int:
    """Book somebody new."""
    desk = desk_at(store)
    person_id = somebody(desk, ref)
    visit(desk, person_id, right=FLUID)
    row = open_follow_ups(store, person_id)[0]
    entry = Booking(starts, minutes, with_, "later", earlier=earlier)
    made = bookings.book(desk, row["id"], None, entry).made
    assert made is not None
    return made


def window(store: Store, booking_id: int, **values: object) -> None:
    """Give the follow-up of an appointment another place in the order."""
    (booking,) = rows(store, tables.Booking, id=booking_id)
    table = tables.FollowUp.__table__
    with store.write() as session:
        changed = update(table).where(table.c.id == booking["follow_up_id"])
        session.execute(changed.values(**values))


def person_of(store: Store, booking_id: int) -> int:
    (booking,) = rows(store, tables.Booking, id=booking_id)
    number: int = booking["person_id"]
    return number


def refs(store: Store, booking_id: int) -> list[str]:
    return [wish.ref for wish in freed(desk_at(store), booking_id).wishes]


def test_the_most_urgent_is_rung_first_then_whose_latest_day_is_nearest(
    store: Store, called_off: int
) -> None:
    late = datetime(2026, 12, 8, 9)
    second = booked(store, "W2", late, "any time")
    third = booked(store, "W3", late + timedelta(hours=1), "any time")
    fourth = booked(store, "W4", late + timedelta(hours=2), "mornings")
    assert refs(store, called_off) == ["W2", "W3", "W4"]
    (follow_up,) = rows(store, tables.FollowUp, person_id=person_of(store, third), is_open=True)
    window(store, third, latest=follow_up["latest"] - timedelta(days=1))
    assert refs(store, called_off) == ["W3", "W2", "W4"]
    window(store, fourth, urgency_rank=0)
    assert refs(store, called_off) == ["W4", "W3", "W2"]
    bookings.wish_earlier(desk_at(store), second, "")
    assert refs(store, called_off) == ["W4", "W3"]


def test_who_cannot_take_it_is_left_out(store: Store, called_off: int) -> None:
    late = datetime(2026, 12, 8, 9)
    booked(store, "W2", late, "")
    booked(store, "W3", late + timedelta(hours=1), "any time", minutes=40)
    booked(store, "W4", late + timedelta(hours=2), "any time", with_="rob")
    booked(store, "W5", datetime(2026, 11, 23, 9), "any time")
    early = booked(store, "W6", late + timedelta(hours=3), "any time")
    after = date(2026, 11, 25)
    window(store, early, earliest=after, target=after, latest=after)
    booked(store, "W7", late + timedelta(hours=4), "any time")
    editing.record_objection(desk_at(store), "W7")

    assert refs(store, called_off) == []


def test_a_time_is_offered_at_the_sites_of_whoever_rings(store: Store) -> None:
    take_on(store)
    numbers = three_children(store)
    made = {}
    for hour, (ref, person) in enumerate(numbers.items(), 9):
        (row,) = open_follow_ups(store, person)
        entry = Booking(datetime(2026, 10, 20, hour), 20, "pat", "later", earlier="any time")
        made[ref] = bookings.book(at(store, "pat"), row["id"], None, entry).made
    gone = booked(store, "W9", datetime(2026, 10, 13, 10), "", with_="pat")
    bookings.cancel(desk_at(store), gone, "person", "ill")

    offered = {who: [wish.ref for wish in freed(at(store, who), gone).wishes]
               for who in ("nell", "sue", "pat")}  # fmt: skip

    assert offered["pat"] == ["N1", "S1", "A1"]
    assert offered["nell"] == ["N1", "A1"]
    assert offered["sue"] == ["S1", "A1"]


def test_calling_off_says_whom_to_ring_and_the_history_names_nobody(store: Store) -> None:
    made = booked(store, "W1", FREED, "")
    booked(store, "W2", FREED + timedelta(days=14), "mornings")
    done = bookings.cancel(desk_at(store), made, "person")

    assert (
        "10:00 on Tuesday 24 November 2026 with clara is free, as far as the bookings here tell. "
        "Would come earlier: 1. Rowan Thackwell (W2), +441632960321: mornings; booked for "
        "8 December 2026."
    ) in done.words
    with store.read() as session:
        told = session.scalars(select(tables.HistoryPayload.content)).all()
    assert len(told) > 4
    assert not any("Thackwell (W2)" in (each or "") for each in told)


def test_a_time_that_is_taken_again_or_gone_is_not_offered(store: Store, called_off: int) -> None:
    booked(store, "W2", FREED + timedelta(days=14), "mornings")
    assert freed(later(desk_at(store), 90), called_off).wishes == ()
    again = booked(store, "W3", FREED, "")
    found = freed(desk_at(store), called_off)

    assert (found.wishes, found.words) == ((), "Taken: W3 with clara, 10:00 to 10:20.")
    assert freed(desk_at(store), again).words == "This appointment stands."
