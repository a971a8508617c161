"""Who is who is asked, never guessed; what is known already is recognised, and one is kept."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from recall.desk.imports.difference_words import recognises
from recall.desk.imports.importing import import_file
from recall.desk.imports.lost_letters import LOST
from recall.desk.imports.nearness import NEARLY
from recall.desk.imports.proposing import propose
from recall.errors import Refused
from recall.exchange.text_in import encoding_of
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.files import BOOKING, PERSON, VISIT, counts, desk_with, take_in, write
from tests.desk.practice import rows

NUMBER = "999 000 8116"
"""Of the range that NHS England keeps for tests: numbers that begin with 999."""
OTHER = PERSON | {"reference": "P2", "given_name": "Ivor", "born": "2012-05-06"}


@pytest.mark.parametrize("ref", ["p7", "P007", "P-7", "P 7", "P\u200b7", "P\u20607", "Ｐ7"])
def test_a_reference_that_is_nearly_anothers_is_asked_about(
    store: Store, tmp_path: Path, ref: str
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON | {"reference": "P7"})
    path = write(tmp_path / "people.csv", OTHER | {"reference": ref})
    proposal = propose(desk, path, "people")
    (asked,) = proposal.taken_away
    # Signs that nobody sees are no part of a reference: it is the same one, of somebody else.
    assert asked == ("name and birth date of somebody" if ref == "P\u200b7" else NEARLY)
    with pytest.raises(Refused, match=asked):
        import_file(desk, path, "people")
    import_file(desk, path, "people", takes_away=1)
    assert counts(import_file(desk, path, "people")) == (0, 0, 1, 0)  # asked once


def test_two_references_of_one_file_that_are_nearly_the_same_are_asked_about(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    path = write(tmp_path / "people.csv", OTHER | {"reference": "p01"}, PERSON)
    assert propose(desk, path, "people").taken_away == {NEARLY: 1}
    other = write(tmp_path / "people.csv", OTHER | {"reference": "P12"}, PERSON)
    assert propose(desk, other, "people").losses == []


@pytest.mark.parametrize("field", ["given_name", "family_name", "adult_1_name"])
def test_names_that_lost_letters_are_asked_about_once(
    store: Store, tmp_path: Path, field: str
) -> None:
    desk = desk_with(store, tmp_path)
    path = write(tmp_path / "people.csv", PERSON | {field: "Zieli?ska"}, OTHER)
    proposal = propose(desk, path, "people")
    assert proposal.taken_away == {LOST: 1}
    (loss,) = proposal.losses
    assert (loss.ref, "Zieli?ska" in loss.which) == ("P1", True)
    with pytest.raises(Refused, match="Zieli"):
        import_file(desk, path, "people")
    import_file(desk, path, "people", takes_away=1)
    other = PERSON | {field: "Zieli?ska", "phone": "01632 960322"}
    assert propose(desk, write(path, other, OTHER), "people").losses == []  # asked once


def test_a_good_name_gives_way_to_one_without_its_letters_only_when_that_was_said(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON | {"family_name": "Zielińska"})
    path = write(tmp_path / "people.csv", PERSON | {"family_name": "Zieli?ska"})
    assert propose(desk, path, "people").taken_away == {LOST: 1}
    with pytest.raises(Refused, match="was Rowan Zielińska"):
        import_file(desk, path, "people")


def test_an_nhs_number_of_two_people_is_nobodys_second(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    mine, theirs = PERSON | {"nhs_number": NUMBER}, OTHER | {"nhs_number": NUMBER}
    summary = take_in(desk, tmp_path, "people", mine, theirs)
    assert counts(summary) == (2, 0, 0, 0)
    (aside,) = summary.kept_aside
    assert (aside.column, aside.wrong) == ("nhs_number", "is the NHS number of P1 too")
    held = [(p["nhs_number"], p["nhs_number_raw"]) for p in rows(store, tables.Person)]
    assert held == [("9990008116", None), (None, NUMBER)]


def test_a_visit_of_somebody_unknown_names_who_it_may_be(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    summary = take_in(desk, tmp_path, "visits", VISIT | {"person": "p001"})
    assert summary.rejects_path is not None
    assert "perhaps P1; else import the person first" in summary.rejects_path.read_text("utf-8")


def test_a_stray_byte_costs_its_own_cell_and_no_accent(store: Store, tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    names = ("Siân", "Zoë", "Róisín", "Łukasz")
    people = [PERSON | {"reference": f"P{n}", "given_name": g} for n, g in enumerate(names)]
    write(path, *people, PERSON | {"reference": "P9", "given_name": "Ren*"})
    path.write_bytes(path.read_bytes().replace(b"Ren*", b"Ren\xe9"))
    assert encoding_of(path) == "utf-8"
    summary = import_file(desk_with(store, tmp_path), path, "people")
    assert counts(summary) == (4, 0, 0, 1)
    assert [p["given_names"] for p in rows(store, tables.Person)] == list(names)


def test_a_file_in_the_older_encoding_stays_in_it(tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    path.write_bytes("reference,given_name\n1,Zoë\n2,Siân\n3,Ã©\n".encode("cp1252"))
    assert encoding_of(path) == "cp1252"


def test_what_the_desk_took_off_stays_off_whatever_the_file_changes(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path, by="clara")
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    void = {"void_at": desk.now, "void_by_id": 1, "void_why": "Not theirs."}
    with store.write() as session:
        session.query(tables.Visit).update(void)
        session.query(tables.ContactPoint).filter_by(kind="phone").update(void)
    again = take_in(desk, tmp_path, "visits", VISIT | {"note": "Seen with mum."})
    assert again.told == ("visit V1 was taken off at the desk, and stays off",)
    take_in(desk, tmp_path, "people", PERSON | {"given_name": "Rowena"})
    assert rows(store, tables.Visit) == []
    assert rows(store, tables.ContactPoint, kind="phone") == []


def test_a_field_that_the_desk_changed_too_stands(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON | {"gp_name": "Dr Pell"})
    with store.write() as session:
        (person,) = session.query(tables.Person).all()
        person.family_name, person.deceased_on = "Thackwell-Orme", desk.today
    changed = {"family_name": "Thackwel", "gp_name": "Dr Rowe", "deceased_on": "2026-08-01"}
    summary = take_in(desk, tmp_path, "people", PERSON | changed)
    (after,) = rows(store, tables.Person)
    assert (after["family_name"], after["gp"]) == ("Thackwell-Orme", "Dr Rowe")
    assert after["deceased_on"] == desk.today
    assert {p.column for p in summary.kept_aside} == {"family_name", "deceased_on"}


def test_a_visit_typed_at_the_desk_and_exported_too_is_one(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    with store.write() as session:
        session.query(tables.Visit).update({"source": "entered", "ref": None})
        session.query(tables.ImportSeen).filter_by(kind="visits").delete()
    summary = take_in(desk, tmp_path, "visits", VISIT)
    assert counts(summary) == (0, 0, 1, 0)
    assert "visit V1 of P1 on 2026-09-01 was typed at the desk too" in summary.told[0]
    assert len(rows(store, tables.Visit)) == 1


BARE = BOOKING | {"reference": ""}


def test_two_booking_rows_that_are_alike_are_one(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    summary = take_in(desk, tmp_path, "bookings", BARE, BARE, BARE | {"status": "attended"})
    assert counts(summary) == (1, 0, 1, 1)
    assert summary.told == ("line 3 says the same as line 2: one of them is kept",)
    again = take_in(desk, tmp_path, "bookings", BOOKING | {"reference": "B7"})
    assert (counts(again), len(rows(store, tables.Booking))) == ((0, 0, 1, 0), 1)
    assert "is booked already, and that booking stands" in again.told[-1]


def test_two_lines_of_one_booking_are_one_or_go_back(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    summary = take_in(desk, tmp_path, "bookings", BOOKING, BOOKING, BOOKING | {"at": "11:40"})
    assert counts(summary) == (1, 0, 1, 1)
    assert summary.told == ("line 3 says the same as line 2: one of them is kept",)
    assert len(rows(store, tables.Booking)) == 1


def test_a_booking_that_moved_or_is_gone_at_the_source_is_shown(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    three = [BOOKING | {"reference": f"B{n}", "on": f"2026-10-0{n}"} for n in (1, 2, 3)]
    take_in(desk, tmp_path, "bookings", *three)
    path = write(tmp_path / "bookings.csv", three[0] | {"at": "11:00"}, three[2])
    proposal = propose(desk, path, "bookings")
    summary = import_file(desk, path, "bookings")
    assert tuple(proposal.told) == summary.told  # before anything lands
    assert (proposal.added, proposal.changed, proposal.unchanged) == (0, 1, 1)
    assert next(recognises(proposal)) == "Recognised: 2."
    assert [told.partition(", 2026")[0] for told in summary.told] == ["booking B2", "booking B1 P1"]
    assert "is not in the file any more, and stands" in summary.told[0]
    assert len(rows(store, tables.Booking)) == 3


def test_what_the_desk_recorded_of_a_booking_is_not_undone(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "bookings", BOOKING)
    with store.write() as session:
        made = {"on": desk.today, "recorded_at": desk.now + timedelta(hours=1), "by_id": 1}
        session.add(tables.BookingEvent(booking_id=1, what="did_not_attend", **made))
    summary = take_in(desk, tmp_path, "bookings", BOOKING | {"note": "Ring first."})
    assert "was recorded at the desk, and stands" in summary.told[0]
    assert [e["what"] for e in rows(store, tables.BookingEvent)] == ["did_not_attend"]
