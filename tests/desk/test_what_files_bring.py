"""What files of contacts, bookings and people leave in the register, row by row."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from pathlib import Path

import pytest

from recall.desk.core.contact_links import link
from recall.desk.people import person_card
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.files import BOOKING, CONTACT, PERSON, VISIT, counts, desk_with, take_in
from tests.desk.practice import protocol, rows


@pytest.mark.parametrize(("kind", "row"), [("contacts", CONTACT), ("bookings", BOOKING)])
def test_whom_the_register_does_not_know_comes_back_with_the_column(
    store: Store, tmp_path: Path, kind: str, row: dict[str, str]
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    other = {"reference": "B2"} if "reference" in row else {}

    summary = take_in(desk, tmp_path, kind, row, {**row, "person": "P9", **other})  # type: ignore[arg-type]

    assert counts(summary) == (1, 0, 0, 1)
    assert summary.rejects_path is not None
    (told,) = csv.DictReader(summary.rejects_path.read_text("utf-8-sig").splitlines())
    assert (told["person"], told["reject_column"]) == ("P9", "person")
    table = tables.Contact if kind == "contacts" else tables.Booking
    assert len(rows(store, table)) == 1


def test_an_adult_is_reached_at_their_own_address_where_one_is_given(
    store: Store, tmp_path: Path
) -> None:
    own = {"adult_1_address": "2 Elm Way", "adult_1_postcode": "WF99 4RS"}
    phone = {"adult_1_phone": "01632 960555", "adult_1_email": "ida@example.org"}
    take_in(desk_with(store, tmp_path), tmp_path, "people", {**PERSON, **own, **phone})

    (adult,) = rows(store, tables.AdultFor)
    theirs = rows(store, tables.ContactPoint, adult_id=adult["id"])
    assert {row["kind"]: row["value"] for row in theirs} == {
        "phone": "+441632960555",
        "email": "ida@example.org",
        "address": "2 Elm Way\nWF99 4RS",
    }


def test_two_numbers_in_a_cell_are_two_ways_with_whose_each_is(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    cells = {"phone": "07700 900004 (mum), dad 07700 900005", "phone_2": "01632 960123 or 12"}

    take_in(desk, tmp_path, "people", {**PERSON, **cells})

    held = rows(store, tables.ContactPoint, kind="phone", adult_id=None)
    assert [(r["rank"], r["raw"], r["label"], r["value"]) for r in held] == [
        (1, "07700 900004", "mum", "+447700900004"),
        (2, "07700 900005", "dad", "+447700900005"),
        (3, "01632 960123", "01632 960123 or 12", "+441632960123"),
    ]
    assert [found.ref for found in person_card.find(desk, "07700 900005")] == [PERSON["reference"]]


def test_a_cell_that_nobody_could_take_apart_is_kept_as_it_was_written(
    store: Store, tmp_path: Path
) -> None:
    take_in(desk_with(store, tmp_path), tmp_path, "people", {**PERSON, "phone": "077OO 900004"})

    (held,) = rows(store, tables.ContactPoint, kind="phone", adult_id=None)
    assert (held["raw"], held["value"]) == ("077OO 900004", None) and held["problem"]


def test_an_adult_without_an_address_lives_at_the_persons(store: Store, tmp_path: Path) -> None:
    take_in(desk_with(store, tmp_path), tmp_path, "people", PERSON)

    addresses = rows(store, tables.ContactPoint, kind="address")
    assert [row["value"] for row in addresses] == ["7 Teasel Row\nWF99 4RR"] * 2
    assert [row["adult_id"] is None for row in addresses].count(True) == 1


@pytest.mark.parametrize("before", [0, 1])
def test_a_contact_is_about_what_was_coming_eight_weeks_before_it_opens(
    store: Store, tmp_path: Path, before: int
) -> None:
    """Of two follow-ups the more pressing counts from eight weeks ahead: common practice."""
    desk = desk_with(store, tmp_path, date(2027, 3, 1))
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    (follow_up,) = rows(store, tables.FollowUp)
    with store.write() as session:
        far = session.get_one(tables.FollowUp, follow_up["id"])
        window = {"earliest": 0, "target": 10, "latest": 20}
        for name, days in window.items():
            setattr(far, name, date(2026, 12, 1) + timedelta(days=days))
        values = {n: v for n, v in follow_up.items() if n not in ("id", "urgency_rank", "version")}
        near = tables.FollowUp(**{**values, "urgency_rank": 9})
        session.add(near)
        session.flush()
        numbers = far.id, near.id
    on = date(2026, 12, 1) - timedelta(weeks=8) - timedelta(days=before)
    made = {"on": on, "recorded_at": desk.now, "by_id": desk.by.id, "ref": "C1"}
    with store.write() as session:
        about = {"person_id": follow_up["person_id"], "channel": "phone", "outcome": "no_answer"}
        session.add(tables.Contact(**made, **about))
        session.flush()
        contact = protocol().contact
        link(session, [follow_up["person_id"]], contact.span(contact.join_within))

    (contact,) = rows(store, tables.Contact)
    assert contact["follow_up_id"] == numbers[before]


def test_letters_to_an_adult_are_written_as_the_persons_own_would_be(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    plain = PERSON | {"reference": "P2", "letter_format": "", "language": ""}
    take_in(desk, tmp_path, "people", PERSON | {"letter_format": "large", "language": "cy"}, plain)

    adults = [(row["format"], row["language"]) for row in rows(store, tables.AdultFor)]
    assert adults == [("large", "cy"), ("standard", "en")]
