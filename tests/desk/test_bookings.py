"""Appointments: made, moved, called off, kept, missed; and their calendar files."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar
import msgspec
import pytest

from recall.care.ear import Ear
from recall.config import Closure, Rota
from recall.desk.contacts import bookings, calendar_files
from recall.desk.contacts.entries import Booking, MoveTo
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.errors import Conflict, InputError, NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    CLEAR,
    FLUID,
    desk_at,
    evening,
    history_is_whole,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)


def at(day: date, hour: int = 10) -> datetime:
    """A time on the first open day from a day on."""
    while day.weekday() > 4:
        day += timedelta(days=1)
    return datetime(day.year, day.month, day.day, hour)


def test_booked_is_waited_for(store: Store, follow_up: dict) -> None:
    starts = at(follow_up["target"])
    done = bookings.book(desk_at(store), follow_up["id"], follow_up["version"], Booking(starts))

    assert (done.step, done.on) == ("attend", starts.date())
    assert rows(store, tables.Booking)[0]["zone"] == "Europe/London"
    assert history_is_whole(store)


def test_a_call_that_ends_in_a_booking_is_one_action(store: Store, follow_up: dict) -> None:
    desk = desk_at(store)
    bookings.book(desk, follow_up["id"], None, Booking(at(follow_up["target"]), channel="phone"))
    assert [c["outcome"] for c in rows(store, tables.Contact)] == ["booked"]
    undo(desk)
    assert rows(store, tables.Contact) == [] == rows(store, tables.Booking)


def test_after_the_latest_day_only_with_a_reason_and_still_overdue(
    store: Store, follow_up: dict
) -> None:
    starts = at(follow_up["latest"] + timedelta(days=7))
    desk = desk_at(store)
    with pytest.raises(Refused, match="after the latest day"):
        bookings.book(desk, follow_up["id"], None, Booking(starts))
    done = bookings.book(desk, follow_up["id"], None, Booking(starts, why_late="abroad until then"))

    assert "stays on the overdue list" in done.words
    assert rows(store, tables.FollowUp, id=follow_up["id"])[0]["latest"] == follow_up["latest"]
    assert rows(store, tables.Booking)[0]["late_why"] == "abroad until then"


@pytest.mark.parametrize(
    ("hour", "minute", "hint"),
    [
        (2, 15, "For the afternoon type 14:15."),
        (6, 59, "For the afternoon type 18:59."),
        (0, 30, "For the afternoon type 12:30."),
        (21, 1, "Choose a time from 07:00 to 21:00."),
        (7, 0, ""),
        (21, 0, ""),
    ],
)
def test_nobody_is_booked_at_night(
    store: Store, follow_up: dict, hour: int, minute: int, hint: str
) -> None:
    """From 07:00 to 21:00: common practice, no source found."""
    desk, starts = desk_at(store), at(follow_up["target"]).replace(hour=hour, minute=minute)
    if not hint:
        bookings.book(desk, follow_up["id"], None, Booking(starts))
        return
    with pytest.raises(Refused, match="is at night") as refused:
        bookings.book(desk, follow_up["id"], None, Booking(starts))

    assert refused.value.hint == hint
    assert rows(store, tables.Booking) == []


def test_a_closed_day_asks_for_an_open_one(store: Store, follow_up: dict) -> None:
    with pytest.raises(Refused, match="not open on a Saturday") as refused:
        bookings.book(desk_at(store), follow_up["id"], None, Booking(datetime(2026, 9, 5, 10)))

    assert refused.value.hint == "Choose an open day."


def test_what_cannot_be_booked_is_refused(store: Store, follow_up: dict) -> None:
    desk, number = desk_at(store), follow_up["id"]
    with pytest.raises(Refused, match="has gone by"):
        bookings.book(desk, number, None, Booking(datetime(2026, 8, 31, 10)))
    with pytest.raises(Refused, match="not open on a"):
        bookings.book(desk, number, None, Booking(datetime(2026, 9, 5, 10)))
    with pytest.raises(InputError, match="no length"):
        bookings.book(desk, number, None, Booking(at(follow_up["target"]), 0))
    with pytest.raises(InputError, match="wall time"):
        bookings.book(desk, number, None, Booking(datetime(2026, 9, 2, 10, tzinfo=UTC)))
    with pytest.raises(NotFound):
        bookings.book(desk, number, None, Booking(at(follow_up["target"]), with_="nobody"))


def test_an_hour_that_the_clocks_skip_is_refused(store: Store) -> None:
    desk = desk_at(store, date(2027, 3, 1))
    person_id = somebody(desk)
    visit(desk, person_id, right=FLUID)
    number = open_follow_ups(store, person_id)[0]["id"]
    with pytest.raises(Refused, match="clocks change"):
        bookings.book(desk, number, None, Booking(datetime(2027, 3, 28, 1, 30), why_late="x"))


def test_nobody_is_booked_twice(store: Store, follow_up: dict) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    bookings.book(desk, follow_up["id"], None, Booking(starts))
    with pytest.raises(Conflict, match="booked already"):
        bookings.book(desk, follow_up["id"], None, Booking(starts))


def test_called_off_goes_back_to_the_right_step(store: Store, follow_up: dict) -> None:
    desk = desk_at(store)
    made = bookings.book(desk, follow_up["id"], None, Booking(at(follow_up["target"]))).made
    assert made is not None
    done = bookings.cancel(desk, made, "practice", "practitioner ill")
    assert (done.step, done.on) == ("phone", desk.today)
    with pytest.raises(Conflict, match="has ended: cancelled by practice"):
        bookings.cancel(desk, made, "person")


def test_moved_keeps_one_calendar_entry(store: Store, follow_up: dict) -> None:
    desk, first = desk_at(store), at(follow_up["target"])
    made = bookings.book(desk, follow_up["id"], None, Booking(first)).made
    assert made is not None
    again = bookings.move(desk, made, MoveTo(first + timedelta(hours=3)), "person", "school").made
    assert again is not None

    read = icalendar.Calendar.from_ical(calendar_files.ics_of_booking(desk, again))
    event = read.walk("VEVENT")[0]
    assert event["UID"] == f"booking-{made}@ear-recall"
    assert int(event["SEQUENCE"]) == 1
    local = event["DTSTART"].dt.astimezone(ZoneInfo("Europe/London"))
    assert local.replace(tzinfo=None) == first + timedelta(hours=3)
    bookings.cancel(desk, again, "person")
    read = icalendar.Calendar.from_ical(calendar_files.ics_of_booking(desk, again))
    assert read.walk("VEVENT")[0]["STATUS"] == "CANCELLED"


def test_a_days_file_has_references_and_no_names(store: Store, follow_up: dict) -> None:
    desk, starts = desk_at(store), at(follow_up["target"])
    bookings.book(desk, follow_up["id"], None, Booking(starts))
    content = calendar_files.ics_of_day(desk_at(store, starts.date()))

    events = icalendar.Calendar.from_ical(content).walk("VEVENT")
    assert [str(e["SUMMARY"]) for e in events] == ["Appointment W1"]
    assert b"Thackwell" not in content


def test_attending_closes_only_what_the_visit_looked_at(store: Store) -> None:
    desk = desk_at(store)
    person_id = somebody(desk)
    visit(desk, person_id, right=FLUID, left=FLUID)
    first = open_follow_ups(store, person_id)[0]
    day = at(first["target"])
    made = bookings.book(desk, first["id"], None, Booking(day)).made
    assert made is not None
    then = later(desk, (day.date() - desk.today).days)
    seen = visit(then, person_id, right=CLEAR)
    done = bookings.record_attended(then, made)

    event = rows(store, tables.BookingEvent)[0]
    assert (event["what"], event["visit_id"]) == ("attended", seen)
    dues = rows(store, tables.Due, person_id=person_id, track="fluid", kind="recheck")
    assert not any(d["is_open"] for d in dues if d["ear"] == "right")
    assert any(d["is_open"] for d in dues if d["ear"] == "left")
    assert done.step is not None


def test_attended_without_a_visit_closes_nothing(store: Store, follow_up: dict) -> None:
    desk, day = desk_at(store), at(follow_up["target"])
    made = bookings.book(desk, follow_up["id"], None, Booking(day)).made
    assert made is not None
    then = later(desk, (day.date() - desk.today).days)
    done = bookings.record_attended(then, made)
    assert "Nothing closes until the visit is recorded" in done.words
    assert rows(store, tables.FollowUp, id=follow_up["id"])[0]["is_open"]


def test_a_child_was_not_brought_and_an_adult_did_not_attend(store: Store) -> None:
    desk = desk_at(store)
    born = {"W1": date(2020, 3, 2), "W2": date(1960, 3, 2)}
    for ref, on in born.items():
        person_id = somebody(desk, ref, born=on, adult=ref == "W1")
        visit(desk, person_id, right=Ear(drum_seen="full", perforation="central"), left=FLUID)
        row = open_follow_ups(store, person_id)[0]
        day = at(row["target"])
        made = bookings.book(desk, row["id"], None, Booking(day)).made
        assert made is not None
        with pytest.raises(Refused, match="Call it off or move it"):
            bookings.record_missed(desk, made)
        bookings.record_missed(evening(desk, (day.date() - desk.today).days), made)
    assert [e["what"] for e in rows(store, tables.BookingEvent)] == [
        "was_not_brought",
        "did_not_attend",
    ]


def test_not_brought_twice_in_a_row_goes_before_a_clinician(store: Store, follow_up: dict) -> None:
    desk = desk_at(store)
    made = bookings.book(
        desk, follow_up["id"], None, Booking(at(desk.today + timedelta(days=1)))
    ).made
    assert made is not None
    then = later(desk, 1)
    bookings.cancel(then, made, "person", "no car")
    made = bookings.book(
        then, follow_up["id"], None, Booking(at(then.today + timedelta(days=1)))
    ).made
    assert made is not None
    done = bookings.record_missed(evening(then, 1), made)
    assert done.step == "safeguarding"
    assert "safeguarding policy" in done.words


def test_what_to_know_is_printed_on_the_appointment(store: Store) -> None:
    desk = desk_at(store)
    person_id = somebody(desk)
    visit(desk, person_id, right=Ear(drum_seen="full", perforation="central"), left=FLUID)
    row = open_follow_ups(store, person_id)[0]
    made = bookings.book(desk, row["id"], None, Booking(at(row["target"]))).made
    assert made is not None
    slip = calendar_files.slip(desk, made)
    assert "! Do not irrigate, the right ear: perforation of the drum (1 September 2026)." in slip


# -- the rota ------------------------------------------------------------------------------------


def on_rota(desk: Desk, *lines: Rota) -> Desk:
    capacity = msgspec.structs.replace(desk.config.capacity, rota=lines)
    return replace(desk, config=msgspec.structs.replace(desk.config, capacity=capacity))


def test_whom_the_rota_does_not_have_is_refused_until_it_is_said_all_the_same(
    store: Store, follow_up: dict
) -> None:
    tuesday, wednesday = at(follow_up["latest"]), at(follow_up["latest"] - timedelta(days=6))
    assert (tuesday.weekday(), wednesday.weekday()) == (1, 2)
    clara = Rota(who="Clara", minutes={"tue": 240})
    desk = on_rota(desk_at(store), clara)
    wrong = Booking(wednesday, with_="clara")
    with pytest.raises(Refused, match="By the rota clara is not in on Wednesday") as caught:
        bookings.book(desk, follow_up["id"], None, wrong)
    assert "book all the same" in str(caught.value.hint)
    assert rows(store, tables.Booking) == []
    bookings.book(desk, follow_up["id"], None, replace(wrong, all_the_same=True))
    undo(desk)
    made = bookings.book(desk, follow_up["id"], None, Booking(tuesday, with_="clara")).made
    assert made is not None
    with pytest.raises(Refused, match="not in on Wednesday"):
        bookings.move(desk, made, MoveTo(wednesday), "person")
    assert bookings.move(desk, made, MoveTo(wednesday, all_the_same=True), "person").made


def test_who_does_not_do_what_is_to_be_done_is_refused_and_nobody_in_particular_is_not(
    store: Store, follow_up: dict
) -> None:
    day = at(follow_up["latest"])
    assert set(follow_up["do"]) == {"otoscopy", "tympanometry"}
    clara = Rota(who="clara", minutes={"tue": 240}, does=("otoscopy",))
    desk = on_rota(desk_at(store), clara)
    with pytest.raises(Refused, match="By the rota clara does no tympanometry"):
        bookings.book(desk, follow_up["id"], None, Booking(day, with_="clara"))
    more = msgspec.structs.replace(clara, does=("otoscopy", "tympanometry"))
    away = msgspec.structs.replace(more, away=(Closure(from_=day.date(), to=day.date()),))
    with pytest.raises(Refused, match="not in on"):
        bookings.book(on_rota(desk, away), follow_up["id"], None, Booking(day, with_="clara"))
    bookings.book(on_rota(desk, more), follow_up["id"], None, Booking(day, with_="clara"))
    undo(desk)
    bookings.book(desk, follow_up["id"], None, Booking(day))
    undo(desk)
    bookings.book(desk, follow_up["id"], None, Booking(day, with_="mina"))
