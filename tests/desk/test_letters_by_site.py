"""Letters of several sites: whose address stands on them, which batch they are in, free times."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest

from recall import config
from recall.desk.contacts.bookings import Booking, book
from recall.desk.contacts.calendar_files import ics_of_booking
from recall.desk.core.narrowing import narrowed, site_by_site
from recall.desk.core.session import Desk
from recall.desk.core.sites import practice_at
from recall.desk.post.batches import prepare
from recall.desk.post.cover import ALL_SITES, Made, OnPaper, cover_of
from recall.desk.post.posting import batches
from recall.desk.post.printing import print_batch, unprinted
from recall.desk.worklists.call_card import call_cards_of
from recall.desk.worklists.taken import free_words, taken
from recall.letters.composed import from_json
from recall.letters.pages import Placed
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.posting import child_with_fluid, first_letter_day, on
from tests.desk.practice import desk_at, open_follow_ups, rows, with_files
from tests.desk.two_sites import NORTH, SOUTH, at, take_on


@pytest.fixture
def group(store: Store, tmp_path: Path) -> Store:
    """A child of each site and one of none, to whom a letter is due."""
    take_on(store)
    for ref, site in (("N1", "north"), ("S1", "south"), ("A1", "")):
        child_with_fluid(desk_at(store, by="clara"), ref=ref, site=site)
    return store


def posting(store: Store, handle: str, folder: Path) -> Desk:
    """The desk of somebody on the day on which the letters are due."""
    (who,) = rows(store, tables.Person, ref="N1")
    day = first_letter_day(desk_at(store, by="clara"), who["id"])
    return with_files(on(at(store, handle), day), letters=folder, database=store.path)


def letters(store: Store) -> dict[str, Any]:
    """Each letter by the reference of whom it is about."""
    people = {each["id"]: each["ref"] for each in rows(store, tables.Person)}
    return {people[each["person_id"]]: each for each in rows(store, tables.Letter)}


def test_the_practice_at_a_site_has_its_address_and_hours() -> None:
    ours = config.Practice(
        name="Wrenfield Ear Care",
        address=("1 Row",),
        postcode="W",
        phone="1",
        opening_hours="Monday.",
        opening_hours_in={"cy": "Llun."},
    )
    group = config.Config(practice=ours, sites=(NORTH, SOUTH))

    north, south = practice_at(group, "north"), practice_at(group, "south")
    assert (north.name, north.phone) == ("Wrenfield Ear Care, North site", NORTH.phone)
    assert (north.opening_hours, north.opening_hours_in) == ("Monday.", {"cy": "Llun."})
    assert (south.address, south.opening_hours_in) == (SOUTH.address, {})
    assert south.opening_hours == SOUTH.opening_hours
    assert practice_at(group, "") == practice_at(group, "closed long ago") == ours


def test_a_letter_shows_the_persons_own_site(group: Store, tmp_path: Path) -> None:
    prepare(posting(group, "mina", tmp_path))

    found = {ref: from_json(row["body"]) for ref, row in letters(group).items()}
    assert {ref: letter.practice_name for ref, letter in found.items()} == {
        "N1": "Wrenfield Ear Care, North site",
        "S1": "Wrenfield Ear Care, South site",
        "A1": "Wrenfield Ear Care",
    }
    whole = str(msgspec.to_builtins(found["S1"]))
    assert SOUTH.phone in whole and "2 Weir Street" in whole and "9 am to 1 pm" in whole
    assert NORTH.phone not in whole and "Larkspur" not in whole


def test_a_batch_of_one_site_leaves_the_others_letters_due(group: Store, tmp_path: Path) -> None:
    pat = posting(group, "pat", tmp_path)

    south = prepare(narrowed(pat, "south"))
    assert set(letters(group)) == {"S1", "A1"}
    assert prepare(posting(group, "sue", tmp_path)).written == 0
    north = prepare(posting(group, "nell", tmp_path))
    assert set(letters(group)) == {"S1", "A1", "N1"}

    assert [each.number for each in batches(posting(group, "nell", tmp_path))] == [
        north.number,
        south.number,  # for the letter to somebody of no site
    ]
    assert [each.number for each in batches(posting(group, "sue", tmp_path))] == [south.number]
    assert unprinted(posting(group, "sue", tmp_path), south.week_on) == (south.batch_id,)


def test_site_by_site_gives_each_letter_once(group: Store, tmp_path: Path) -> None:
    """As the weekly job does it: those of no site go with the first."""
    parts = site_by_site(posting(group, "mina", tmp_path))

    made = [prepare(part) for part in parts]
    assert [one.written for one in made] == [2, 1]
    held = {ref: row["batch_id"] for ref, row in letters(group).items()}
    assert held["N1"] == held["A1"] != held["S1"]
    assert len(site_by_site(posting(group, "nell", tmp_path))) == 1
    assert len(site_by_site(desk_at(group))) == 1


def test_the_cover_sheet_counts_by_site(group: Store, tmp_path: Path) -> None:
    mina = posting(group, "mina", tmp_path)
    made = prepare(mina)
    assert made.batch_id is not None
    assert print_batch(mina, made.batch_id).letters == 3

    found = letters(group)
    names = {"N1": "North site", "S1": "South site", "A1": ALL_SITES}
    with group.read() as session:
        known = {each.id: each for each in session.query(tables.Letter)}
        batch = session.query(tables.Batch).one()
    paper = tuple(
        OnPaper(known[found[ref]["id"]], ref, Placed(ref, n, n)) for n, ref in enumerate(names, 1)
    )
    sites = {found[ref]["id"]: name for ref, name in names.items()}
    usual = Made(batch, mina.today, "Wrenfield", paper, 0, {}, (), {}, "head")
    whole = cover_of(replace(usual, sites=sites))

    assert whole.parts[0].heading == "Sites"
    assert whole.parts[0].rows == (
        ("North site", "1", "1"),
        (ALL_SITES, "1", "1"),
        ("South site", "1", "1"),
    )
    one = cover_of(replace(usual, paper=paper[:1], sites={found["N1"]["id"]: "North site"}))
    assert one.told[0].startswith("Wrenfield, North site. Made on")
    assert "Sites" not in {part.heading for part in cover_of(usual).parts}


def test_an_appointment_is_at_the_persons_site(group: Store) -> None:
    (who,) = rows(group, tables.Person, ref="S1")
    (row,) = open_follow_ups(group, who["id"])
    sue = at(group, "sue")
    starts = datetime.combine(row["target"], datetime.min.time()).replace(hour=10)
    made = book(sue, row["id"], None, Booking(starts)).made

    text = ics_of_booking(sue, made or 0).decode().replace("\r\n ", "")
    assert "2 Weir Street" in text and SOUTH.phone in text


def test_what_is_free_is_said_of_the_sites_own_staff(group: Store) -> None:
    day = date(2026, 11, 3)
    for hour, (ref, who) in enumerate((("N1", "noor"), ("S1", "clara"), ("A1", "")), 9):
        (person,) = rows(group, tables.Person, ref=ref)
        (row,) = open_follow_ups(group, person["id"])
        starts = datetime(day.year, day.month, day.day, hour)
        book(at(group, "mina"), row["id"], None, Booking(starts, with_=who, why_late="Asked."))

    def who_is_free(handle: str) -> set[str]:
        return {line.partition(":")[0] for line in free_words(at(group, handle), day)}

    assert who_is_free("mina") == {"noor", "clara", "nobody in particular"}
    assert who_is_free("sue") == {"clara", "nobody in particular"}
    assert who_is_free("nell") == {"noor", "clara", "nobody in particular"}
    assert taken(at(group, "sue"), datetime(2026, 11, 3, 9), 20, "noor").same


def test_the_day_to_propose_is_one_of_the_sites_rota(group: Store) -> None:
    """Somebody of the north works on Mondays, somebody of the south on Thursdays."""
    rota = (
        config.Rota(who="noor", minutes={"mon": 240}),
        config.Rota(who="seth", minutes={"thu": 240}),
    )
    from recall.clock import Clock
    from recall.desk.core.rights import Role
    from recall.desk.core.session import StaffRow
    from recall.desk.practice.staff import add_staff

    seth = StaffRow(0, "seth", "Seth Ely", Role.PRACTITIONER, site="south")
    add_staff(group, Clock.at(desk_at(group).today), seth, by="clara")
    mina = at(group, "mina")
    with_rota = msgspec.structs.replace(mina.config, capacity=config.Capacity(rota=rota))
    mina = replace(mina, config=with_rota)

    def proposed(ref: str) -> int:
        (card,) = call_cards_of(mina, ref)
        assert card.offer_on is not None
        return card.offer_on.weekday()

    assert (proposed("N1"), proposed("S1")) == (0, 3)
    assert timedelta(days=proposed("A1")) in (timedelta(0), timedelta(days=3))
