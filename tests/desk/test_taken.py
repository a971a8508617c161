"""A time that is taken, times that are free, and what a day typed in later becomes."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking, MoveTo
from recall.desk.core.undo import undo
from recall.desk.people.editing import Adult, add_adult
from recall.desk.worklists.taken import free_words, taken
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    FLUID,
    desk_at,
    evening,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)
from tests.desk.test_bookings import at


@pytest.fixture
def second(store: Store) -> dict:
    """The follow-up of somebody else."""
    desk = desk_at(store)
    person_id = somebody(desk, "W2")
    visit(desk, person_id, right=FLUID)
    return open_follow_ups(store, person_id)[0]


def test_a_time_that_is_taken_says_by_whom_and_when_it_is_free(
    store: Store, follow_up: dict, second: dict
) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    bookings.book(desk, follow_up["id"], None, Booking(starts, 30, "clara"))
    bookings.book(desk, second["id"], None, Booking(starts + timedelta(minutes=30), 20, "clara"))

    found = taken(desk, starts + timedelta(minutes=10), 20, "clara")
    assert found.same
    assert found.words == (
        "Taken: W1 with clara, 10:00 to 10:30. Next free, as far as the bookings here tell: 10:50."
    )
    assert taken(desk, starts + timedelta(minutes=50), 20, "clara").words == ""
    assert taken(desk, starts - timedelta(minutes=20), 20, "clara").words == ""
    anybody = taken(desk, starts, 20)
    assert not anybody.same
    assert anybody.words.startswith("At the same time: W1 with clara")


def test_only_the_same_clinician_or_nobody_in_particular_is_in_the_way(
    store: Store, follow_up: dict, second: dict
) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    bookings.book(desk, follow_up["id"], None, Booking(starts, 30, "clara"))
    assert taken(desk, starts, 20, "rob").words == ""
    bookings.book(desk, second["id"], None, Booking(starts, 30))

    found = taken(desk, starts, 20, "rob")
    assert found.words.startswith("At the same time: W2 with nobody in particular, ")
    assert "W1" not in found.words and not found.same


def test_the_appointment_that_is_moved_is_not_in_its_own_way(store: Store, follow_up: dict) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    made = bookings.book(desk, follow_up["id"], None, Booking(starts, 30, "clara")).made

    assert taken(desk, starts, 20, "clara", but=made).words == ""


def test_booking_a_taken_time_is_said_and_done(store: Store, follow_up: dict, second: dict) -> None:
    """The practice's own appointment book knows better: nothing is refused."""
    desk, starts = desk_at(store), at(follow_up["target"])
    bookings.book(desk, follow_up["id"], None, Booking(starts, 30, "clara"))
    done = bookings.book(desk, second["id"], None, Booking(starts, 30, "clara"))

    assert "Taken: W1 with clara, 10:00 to 10:30." in done.words


def test_what_is_free_is_told_for_each_between_their_appointments(
    store: Store, follow_up: dict, second: dict
) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    assert free_words(desk, starts.date()) == ()
    bookings.book(desk, follow_up["id"], None, Booking(starts, 30, "clara"))
    bookings.book(desk, second["id"], None, Booking(starts + timedelta(hours=1), 20, "clara"))

    assert free_words(desk, starts.date()) == (
        "clara: nothing booked before 10:00, 10:30 to 11:00, from 11:20",
    )


def test_moving_can_change_who_and_how_long(store: Store, follow_up: dict) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    made = bookings.book(desk, follow_up["id"], None, Booking(starts, 20, "clara")).made
    assert made is not None
    kept = bookings.move(desk, made, MoveTo(starts + timedelta(hours=1)), "person").made
    assert kept is not None
    bookings.move(desk, kept, MoveTo(starts, 40, "rob"), "practice")

    first, second, third = rows(store, tables.Booking)
    assert (second["minutes"], second["staff_id"]) == (20, first["staff_id"])
    assert third["minutes"] == 40
    assert third["staff_id"] not in (None, first["staff_id"])


def test_a_wish_to_come_earlier_is_kept_and_taken_back(store: Store, follow_up: dict) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    made = bookings.book(desk, follow_up["id"], None, Booking(starts, earlier=" mornings ")).made
    assert made is not None
    assert rows(store, tables.Booking)[0]["earlier"] == "mornings"
    bookings.wish_earlier(desk, made, "")
    assert rows(store, tables.Booking)[0]["earlier"] == ""
    undo(desk)
    assert rows(store, tables.Booking)[0]["earlier"] == "mornings"


@pytest.mark.parametrize("end", [bookings.record_attended, bookings.record_missed])
def test_what_is_typed_in_later_counts_from_the_day_it_happened(
    store: Store, follow_up: dict, end: object
) -> None:
    """A day worked on paper: the event is of that day, the instant tells when it was typed."""
    desk, day = desk_at(store), date(2026, 9, 2)
    made = bookings.book(desk, follow_up["id"], None, Booking(datetime(2026, 9, 2, 10))).made
    end(later(desk, 6), made)  # type: ignore[operator]

    (event,) = rows(store, tables.BookingEvent)
    assert event["on"] == day
    assert event["recorded_at"].date() == date(2026, 9, 7)


@pytest.mark.parametrize(
    ("cared_for", "ended"), [(True, "was_not_brought"), (False, "did_not_attend")]
)
def test_only_who_is_brought_by_others_was_not_brought(
    store: Store, cared_for: bool, ended: str
) -> None:
    desk = desk_at(store)
    person_id = somebody(desk, born=date(1940, 3, 2), adult=False)
    if cared_for:
        add_adult(desk_at(store, by="clara"), "W1", Adult("Wyn Abel", "carer"))
    visit(desk, person_id, right=FLUID)
    row = open_follow_ups(store, person_id)[0]
    made = bookings.book(desk, row["id"], None, Booking(datetime(2026, 9, 2, 10))).made
    assert made is not None
    done = bookings.record_missed(evening(desk, 1), made, not_brought=True)

    assert rows(store, tables.BookingEvent)[0]["what"] == ended
    assert ("add whoever cares for them" in done.words) == (not cared_for)
