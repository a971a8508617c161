"""Bookings as iCalendar, by RFC 5545 and read back by a general iCalendar library."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.config import Practice
from recall.exchange.icalendar_out import Appointment, booking_calendar, day_calendar

PRACTICE = Practice(
    name="Wrenfield Ear Care",
    address=("4 Tanner's Row", "Wrenfield"),
    postcode="WF99 4ZZ",
    phone="01632 960100",
)
NOW = datetime(2026, 9, 1, 10, tzinfo=UTC)
BOOKED = Appointment(
    reference="B17",
    starts_local=datetime(2026, 10, 13, 9, 30),
    zone="Europe/London",
    minutes=30,
    who="P1",
)


def events(data):
    return list(icalendar.Calendar.from_ical(data).walk("VEVENT"))


def change(**fields):
    from msgspec.structs import replace

    return replace(BOOKED, **fields)


def test_a_booking_reads_back_in_a_general_library():
    (event,) = events(booking_calendar(BOOKED, PRACTICE, now=NOW))

    assert event["UID"] == "B17@ear-recall"
    assert event.decoded("DTSTART") == datetime(2026, 10, 13, 8, 30, tzinfo=UTC)
    assert event.decoded("DTEND") - event.decoded("DTSTART") == timedelta(minutes=30)
    assert event.decoded("DTSTAMP") == NOW
    assert event["SUMMARY"] == "Appointment at Wrenfield Ear Care"
    assert event["LOCATION"] == "4 Tanner's Row, Wrenfield, WF99 4ZZ"
    assert event["STATUS"] == "CONFIRMED"


@pytest.mark.parametrize(
    ("local", "utc"),
    [
        (datetime(2026, 10, 24, 9), datetime(2026, 10, 24, 8, tzinfo=UTC)),
        (datetime(2026, 10, 25, 9), datetime(2026, 10, 25, 9, tzinfo=UTC)),
        (datetime(2027, 3, 27, 9), datetime(2027, 3, 27, 9, tzinfo=UTC)),
        (datetime(2027, 3, 28, 9), datetime(2027, 3, 28, 8, tzinfo=UTC)),
    ],
)
def test_the_hour_is_right_on_both_sides_of_a_clock_change(local, utc):
    """Directive 2000/84/EC, kept in UK law: last Sundays of March and October, 01:00 UTC."""
    (event,) = events(booking_calendar(change(starts_local=local), PRACTICE, now=NOW))

    assert event.decoded("DTSTART") == utc


def test_what_rfc_5545_asks_of_every_calendar_is_there():
    """RFC 5545 3.6: PRODID and VERSION once; 3.6.1: UID and DTSTAMP in each VEVENT."""
    text = booking_calendar(BOOKED, PRACTICE, now=NOW).decode()

    assert text.startswith("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:")
    assert text.endswith("END:VCALENDAR\r\n")
    assert "\n" not in text.replace("\r\n", "")


def test_text_is_escaped_as_in_the_standards_own_example():
    """RFC 5545 3.3.11: backslash, semicolon, comma and line break."""
    from msgspec.structs import replace

    practice = replace(PRACTICE, address=("Project XYZ, Final; Review\\\nConference Room",))
    text = booking_calendar(BOOKED, practice, now=NOW).decode().replace("\r\n ", "")

    assert r"LOCATION:Project XYZ\, Final\; Review\\\nConference Room\, WF99 4ZZ" in text


def test_a_cancelled_booking_says_so_with_a_higher_sequence():
    (event,) = events(booking_calendar(change(is_cancelled=True, revision=2), PRACTICE, now=NOW))

    assert (event["STATUS"], event["SEQUENCE"]) == ("CANCELLED", 2)


def test_a_day_is_in_order_and_names_nobody():
    day = [change(reference="B2", starts_local=datetime(2026, 10, 13, 11), who="P2"), BOOKED]
    found = events(day_calendar(day, PRACTICE, now=NOW))

    assert [e["SUMMARY"] for e in found] == ["Appointment P1", "Appointment P2"]


def test_an_empty_day_is_still_a_calendar():
    assert events(day_calendar([], PRACTICE, now=NOW)) == []


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=120))
def test_lines_fold_at_75_octets_and_any_name_comes_back(name):
    """RFC 5545 3.1: lines of no more than 75 octets without the line break."""
    from msgspec.structs import replace

    data = booking_calendar(BOOKED, replace(PRACTICE, name=name), now=NOW)

    assert all(len(line) <= 75 for line in data.split(b"\r\n"))
    assert all(line.decode() is not None for line in data.split(b"\r\n"))
    (event,) = events(data)
    assert event["SUMMARY"] == f"Appointment at {name}"
