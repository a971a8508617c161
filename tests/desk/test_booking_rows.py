"""What is kept of an appointment, and of how it ended."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking, MoveTo
from recall.errors import Conflict, InputError, NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import CLEAR, desk_at, evening, rows, somebody, visit
from tests.desk.test_bookings import at


def test_everything_said_of_an_appointment_is_kept_and_goes_along_when_it_is_moved(
    store: Store, follow_up: dict
) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    clara = rows(store, tables.Staff, handle="clara")[0]["id"]
    told = {"with_": "Clara", "place": "Room 2", "note": "lift out of order"}
    made = bookings.book(
        desk, follow_up["id"], follow_up["version"], Booking(starts, 45, **told)
    ).made
    assert made is not None
    again = starts + timedelta(hours=1)
    bookings.move(desk, made, MoveTo(again), "practice", " Clara is away ")

    kept = [
        (b["starts_local"], b["minutes"], b["staff_id"], b["place"], b["note"], b["late_why"])
        for b in rows(store, tables.Booking)
    ]
    assert kept == [
        (when, 45, clara, "Room 2", "lift out of order", "") for when in (starts, again)
    ]
    ended = [(e["booking_id"], e["what"], e["why"]) for e in rows(store, tables.BookingEvent)]
    assert ended == [(made, "moved_by_practice", "Clara is away")]


def test_a_call_that_ends_in_an_appointment_is_kept_as_a_contact(
    store: Store, follow_up: dict
) -> None:
    starts = at(follow_up["target"])
    bookings.book(
        desk_at(store), follow_up["id"], None, Booking(starts, channel="phone", by_them=True)
    )
    kept = rows(store, tables.Contact)[0]
    assert (kept["follow_up_id"], kept["person_id"]) == (follow_up["id"], follow_up["person_id"])
    assert (kept["channel"], kept["outcome"], kept["by_them"]) == ("phone", "booked", True)
    assert (kept["round"], kept["step"]) == (1, follow_up["step"])


def test_an_unknown_channel_is_refused(store: Store, follow_up: dict) -> None:
    with pytest.raises(InputError, match="'pigeon' is no channel"):
        bookings.book(
            desk_at(store),
            follow_up["id"],
            None,
            Booking(at(follow_up["target"]), channel="pigeon"),
        )


@pytest.mark.parametrize(("minutes", "allowed"), [(0, False), (1, True), (480, True), (481, False)])
def test_how_long_an_appointment_may_be(
    store: Store, follow_up: dict, minutes: int, allowed: bool
) -> None:
    """Up to a working day of eight hours: common practice, no source."""
    desk, starts = desk_at(store), at(follow_up["target"])
    if allowed:
        bookings.book(desk, follow_up["id"], None, Booking(starts, minutes))
    else:
        with pytest.raises(InputError, match=f"{minutes} minutes is no length"):
            bookings.book(desk, follow_up["id"], None, Booking(starts, minutes))
    assert [b["minutes"] for b in rows(store, tables.Booking)] == [minutes] * allowed


def test_a_reason_for_being_late_is_kept_only_past_the_latest_day(
    store: Store, follow_up: dict
) -> None:
    latest = follow_up["latest"]
    assert latest.weekday() == 1, "a Tuesday, eight weeks after the visit"
    desk = desk_at(store)
    made = bookings.book(desk, follow_up["id"], None, Booking(at(latest), why_late="abroad")).made
    assert made is not None
    later = MoveTo(at(latest + timedelta(days=1)), why_late=" abroad ")
    bookings.move(desk, made, later, "person")
    assert [b["late_why"] for b in rows(store, tables.Booking)] == ["", "abroad"]


@pytest.mark.parametrize("how", ["attended", "missed"])
def test_nobody_came_or_missed_before_the_day(store: Store, follow_up: dict, how: str) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    made = bookings.book(desk, follow_up["id"], None, Booking(starts)).made
    assert made is not None
    record = bookings.record_attended if how == "attended" else bookings.record_missed
    with pytest.raises(Refused, match=f"Booking {made} is on"):
        record(desk_at(store, starts.date() - timedelta(days=1)), made)
    assert rows(store, tables.BookingEvent) == []

    if how == "missed":
        with pytest.raises(Refused, match="booked for 10:00 today, and may still come"):
            record(desk_at(store, starts.date()), made)
    record(evening(desk_at(store, starts.date())), made)
    assert [e["booking_id"] for e in rows(store, tables.BookingEvent)] == [made]


def test_attending_is_tied_to_the_visit_of_that_day_and_person(
    store: Store, follow_up: dict
) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    made = bookings.book(desk, follow_up["id"], None, Booking(starts)).made
    assert made is not None
    there = desk_at(store, starts.date())
    visit(there, somebody(there, "W2"), right=CLEAR)
    mine = visit(there, follow_up["person_id"], left=CLEAR)

    done = bookings.record_attended(there, made)
    assert rows(store, tables.BookingEvent)[0]["visit_id"] == mine
    assert done.words.startswith("Attended. ") and "Nothing closes" not in done.words


def test_the_visit_of_somebody_else_is_not_taken(store: Store, follow_up: dict) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    made = bookings.book(desk, follow_up["id"], None, Booking(starts)).made
    assert made is not None
    there = desk_at(store, starts.date())
    theirs = visit(there, somebody(there, "W2"), right=CLEAR)
    with pytest.raises(NotFound, match=f"no visit {theirs} of this person"):
        bookings.record_attended(there, made, theirs)
    asked = rows(store, tables.Visit, person_id=follow_up["person_id"])[0]["id"]
    bookings.record_attended(there, made, asked)
    assert rows(store, tables.BookingEvent)[0]["visit_id"] == asked


@pytest.mark.parametrize("whom", ["person", "practice"])
def test_who_called_it_off_and_why_is_kept_and_it_can_be_booked_again(
    store: Store, follow_up: dict, whom: str
) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    made = bookings.book(desk, follow_up["id"], None, Booking(starts)).made
    assert made is not None
    done = bookings.cancel(desk, made, whom, " ill ")
    event = rows(store, tables.BookingEvent)[0]
    assert (event["what"], event["why"]) == (f"cancelled_by_{whom}", "ill")
    assert done.words.startswith("Called off.")

    second = bookings.book(desk, follow_up["id"], None, Booking(starts)).made
    with pytest.raises(Conflict, match=f"booked already \\(booking {second}\\)"):
        bookings.book(desk, follow_up["id"], None, Booking(datetime.combine(starts, starts.time())))
