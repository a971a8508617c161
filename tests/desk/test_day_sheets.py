"""Tomorrow's list on paper and as a file: all of the day, and nothing said that must not be."""

from __future__ import annotations

import csv
from datetime import date, datetime
from pathlib import Path

import pdfplumber
import pytest

from recall.care.ear import Ear
from recall.desk.contacts import bookings
from recall.desk.contacts.contact_points import end_contact_point
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.oversight.day_sheets import NO_NUMBER, print_day, write_reminders
from recall.desk.people import editing
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import desk_at, open_follow_ups, rows, somebody, visit, with_files

ON = date(2026, 9, 29)


@pytest.fixture
def two(store: Store, tmp_path: Path) -> Desk:
    """Two children with a hole, booked at ten and at eleven; files go to this test's folder."""
    desk = desk_at(store)
    for hour, ref, family in ((10, "W1", "Thackwell"), (11, "W2", "\U0001f600 Quill")):
        person_id = somebody(desk, ref, family_name=family)
        visit(desk, person_id, right=Ear(drum_seen="full", perforation="central"))
        row = open_follow_ups(store, person_id)[0]
        starts = datetime(ON.year, ON.month, ON.day, hour)
        bookings.book(desk, row["id"], None, Booking(starts, 30, "clara", "later"))
    return with_files(desk, letters=tmp_path / "letters", database=tmp_path / "recall.db")


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_the_file_for_reminders_names_the_adult_and_nothing_clinical(two: Desk) -> None:
    came = write_reminders(two, ON)

    assert (came.written, came.left_out) == (2, ())
    assert read(came.path)[0] == {
        "appointment": "1",
        "reference": "W1",
        "date": "2026-09-29",
        "time": "10:00",
        "minutes": "30",
        "name_to_address": "Ida Thackwell",
        "phone": "00441632960321",
        "practice": "Wrenfield Ear Care",
        "practice_phone": "01632 960123",
        "practice_address": "4 Larkspur Yard, Wrenfield, WR9 9ZZ",
    }
    assert came.path.stat().st_mode & 0o077 == 0
    assert "perforation" not in came.path.read_text("utf-8-sig")


def test_who_may_not_be_contacted_is_left_out_and_said(two: Desk) -> None:
    editing.record_unsafe(two, "W2")
    came = write_reminders(two, ON)

    assert [row["reference"] for row in read(came.path)] == ["W1"]
    assert [line.partition(":")[0] for line in came.left_out] == ["W2"]
    assert came.words.startswith("1 in ")


def test_who_has_no_number_is_left_out_and_said(two: Desk) -> None:
    (phone,) = rows(two.store, tables.ContactPoint, person_id=1, kind="phone")
    end_contact_point(two, phone["id"], "given up")
    came = write_reminders(two, ON)

    assert [row["reference"] for row in read(came.path)] == ["W2"]
    assert came.left_out == (f"W1: {NO_NUMBER}",)


def test_the_printed_list_has_everybody_with_what_to_know_first(two: Desk) -> None:
    """A letter that the fonts lack never keeps anybody off the list: the reference is there."""
    out = print_day(two, ON)
    with pdfplumber.open(out) as pdf:
        text = " ".join("\n".join(page.extract_text() for page in pdf.pages).split())

    assert "Appointments, Tuesday 29 September 2026" in text
    assert "10:00 30 clara Rowan Thackwell" in text
    assert "11:00 30 clara Rowan ? Quill" in text
    assert "born 2 March 2020, W2" in text
    assert text.count("! Do not irrigate, the right ear: perforation of the drum") == 2


def test_a_day_with_nobody_still_makes_a_page(two: Desk) -> None:
    assert print_day(two, date(2026, 9, 30)).read_bytes().startswith(b"%PDF")
