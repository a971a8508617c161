"""A practice of several sites: who is where on which day, and what a day's papers say of it.

That an appointment belongs to the site of the person, and a line of the rota to the site that it
names, follows from the job: whoever is told another place goes there. Common practice, no source.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pdfplumber
import pytest

from recall import config
from recall.ahead.board import Board
from recall.ahead.work import Booked, Hours, slots
from recall.desk.contacts.bookings import book
from recall.desk.contacts.entries import Booking
from recall.desk.core.narrowing import narrowed
from recall.desk.core.session import Desk
from recall.desk.oversight.ahead import ahead
from recall.desk.oversight.day_sheets import appointments_of, print_day, write_reminders
from recall.desk.worklists.taken import free_words
from recall.records.database.store import Store
from tests.desk.practice import open_follow_ups, with_files
from tests.desk.two_sites import NORTH, SOUTH, at, take_on, three_children

ON = date(2026, 9, 29)
"""A Tuesday."""
AT_NORTH = "4 Larkspur Yard, Wrenfield, WR9 9ZZ"
AT_SOUTH = "2 Weir Street, Nether Wrenfield, WR9 8ZY"
TWO_PLACES = (
    config.Rota(who="pat", site="north", minutes={"mon": 240, "tue": 60}),
    config.Rota(who="pat", site="South site", minutes={"tue": 120, "thu": 300}),
)


@pytest.fixture
def group(store: Store, tmp_path: Path) -> Desk:
    """Three children booked on one day with Pat: of the north, of the south, of neither."""
    take_on(store)
    numbers = three_children(store)
    desk = at(store, "mina")
    for hour, ref in ((10, "N1"), (11, "S1"), (12, "A1")):
        row = open_follow_ups(store, numbers[ref])[0]
        starts = datetime(ON.year, ON.month, ON.day, hour)
        book(at(store, "pat"), row["id"], None, Booking(starts, 30, "pat", "later"))
    return with_files(desk, letters=tmp_path / "letters", database=tmp_path / "recall.db")


def with_rota(desk: Desk, *rota: config.Rota) -> Desk:
    capacity = config.Capacity(rota=rota)
    return replace(desk, config=msgspec.structs.replace(desk.config, capacity=capacity))


def text_of(path: Path) -> str:
    with pdfplumber.open(path) as pdf:
        return " ".join("\n".join(page.extract_text() for page in pdf.pages).split())


def test_reminders_tell_the_site_of_each_person(group: Desk) -> None:
    came = write_reminders(group, ON)
    with came.path.open(encoding="utf-8-sig", newline="") as file:
        rows = {row["reference"]: row for row in csv.DictReader(file)}
    whole = ("practice", "practice_phone", "practice_address")
    assert [rows["N1"][name] for name in whole] == [
        *("Wrenfield Ear Care, North site", "01632 960123", AT_NORTH)
    ]
    assert [rows["S1"][name] for name in whole] == [
        *("Wrenfield Ear Care, South site", "01632 960155", AT_SOUTH)
    ]
    assert rows["A1"]["practice"] == "Wrenfield Ear Care"


def test_the_printed_day_has_a_part_for_each_site(group: Desk) -> None:
    parts = appointments_of(group, ON, "Appointments today")
    assert [(part.heading, len(part.rows)) for part in parts] == [
        ("Appointments today. Wrenfield Ear Care, North site", 1),
        ("Appointments today. Wrenfield Ear Care, South site", 1),
        ("Appointments today. Wrenfield Ear Care: of no site", 1),
    ]
    text = text_of(print_day(group, ON))
    assert f"{AT_NORTH}. 01632 960123." in text and f"{AT_SOUTH}. 01632 960155." in text
    assert "3 by the bookings here" in text


def test_the_day_of_one_site_shows_that_site_alone(group: Desk) -> None:
    text = text_of(print_day(narrowed(group, "south"), ON))
    assert AT_SOUTH in text and AT_NORTH not in text and "N1" not in text


def test_a_line_of_the_rota_is_for_its_site(group: Desk) -> None:
    found = ahead(with_rota(group, *TWO_PLACES))
    by = found.whole.by("site")
    assert [w.gives for w in by["north"]][1:3] == [300, 300]
    assert [w.gives for w in by["south"]][1:3] == [420, 420]
    assert [w.gives for w in found.whole.by("practitioner")["pat"]][1] == 720


def test_free_times_are_of_the_site_at_which_somebody_is(group: Desk) -> None:
    desk = with_rota(group, TWO_PLACES[0], config.Rota(who="rob", site="south", minutes={"tue": 9}))
    gaps = "before 10:00, 10:30 to 11:00, 11:30 to 12:00, from 12:30"
    assert free_words(desk, ON) == (
        f"pat at North site: nothing booked {gaps}",
        "rob at South site: nothing booked",
    )
    south = narrowed(desk, "south")
    assert free_words(south, ON) == ("rob at South site: nothing booked",)
    assert free_words(desk, ON + timedelta(days=1)) == ()


def test_an_appointment_takes_the_minutes_of_its_site() -> None:
    rota = [Hours(who="pat", minutes={1: 60}, site=site) for site in ("north", "south")]
    booked = [Booked(on=ON, minutes=40, who="pat", site="south")]
    board = Board(slots(rota, [ON]), booked)
    assert dict(zip((slot.site for slot in board.slots), board.taken, strict=True)) == {
        "north": 0,
        "south": 40,
    }


def settings(**more: Any) -> config.Config:
    return config.Config(practice=config.Practice(**_WHO), **more)


_WHO: dict[str, Any] = {
    "name": "Wrenfield Ear Care",
    "address": ("4 Larkspur Yard",),
    "postcode": "WR9 9ZZ",
    "phone": "01632 960123",
}


@pytest.mark.parametrize("sites", [(), (NORTH, SOUTH)])
def test_a_line_of_the_rota_for_no_site_is_refused(sites: tuple[config.Site, ...]) -> None:
    rota = config.Capacity(rota=(config.Rota(who="pat", site="nroth", minutes={}),))
    with pytest.raises(ValueError, match="'nroth' is no site"):
        settings(sites=sites, capacity=rota)


def test_nobody_stands_twice_on_the_rota_of_one_site() -> None:
    with pytest.raises(ValueError, match="names somebody twice; one line for each site"):
        config.Capacity(rota=(TWO_PLACES[0], TWO_PLACES[0]))
    assert settings(sites=(NORTH, SOUTH), capacity=config.Capacity(rota=TWO_PLACES))


@pytest.mark.parametrize(("ref", "day", "says"), [
    ("N1", 28, ""),
    ("S1", 28, "By the rota pat is at North site on 28 September 2026, not at South site."),
    ("S1", 29, ""),
    ("A1", 28, ""),
    ("S1", 30, ""),
])  # fmt: skip
def test_whoever_is_at_another_site_that_day_is_said_when_booking(
    store: Store, ref: str, day: int, says: str
) -> None:
    take_on(store)
    row = open_follow_ups(store, three_children(store)[ref])[0]
    desk = with_rota(at(store, "pat"), *TWO_PLACES)

    starts = datetime(2026, 9, day, 10)
    said = book(desk, row["id"], None, Booking(starts, 30, "pat", "later", all_the_same=True))

    assert ("By the rota" in said.words) == bool(says)
    assert says in said.words
