"""A run is taken back whole by its number; what somebody has touched since stays, and is listed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from recall.desk.core.replanning import replan
from recall.desk.core.session import Desk
from recall.desk.imports.importing import import_file
from recall.desk.imports.proposing import propose
from recall.desk.imports.taking_back import look_at_taking_back, take_back
from recall.desk.people.correcting import correct
from recall.desk.plans.confirming import confirm_people
from recall.errors import Conflict, NotFound
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.files import BOOKING, CONTACT, PERSON, VISIT, counts, desk_with, take_in, write
from tests.desk.practice import history_is_whole, rows

OTHER = PERSON | {"reference": "P2", "given_name": "Ivor", "born": "2012-05-06", "phone": ""}
CHANGED = PERSON | {"family_name": "Orme", "born": "2018-04-02", "phone": "01632 960999"}
HELD = (tables.Person, tables.ContactPoint, tables.AdultFor, tables.PersonRisk, tables.Visit)
LOOP = (tables.Contact, tables.Booking)


def held(store: Store) -> dict[str, list[Any]]:
    """Everything that stands of people and visits, and what is open, without counts of versions."""
    told = {t.__name__: [dict(row) for row in rows(store, t)] for t in (*HELD, *LOOP)}
    told["Due"] = sorted(
        (d["person_id"], d["track"], str(d["latest"]))
        for d in rows(store, tables.Due, is_open=True)
    )
    told["Keys"] = sorted(keys_of_people(store))
    told["Seen"] = sorted((r["kind"], r["ref"], r["fields"]) for r in seen_of_files(store))
    for row in told["Person"]:
        row.pop("version")
    return told


def keys_of_people(store: Store) -> list[tuple[int, str, str]]:
    """Return by what each is found."""
    k = tables.PersonKey
    with store.read() as session:
        return [(row.person_id, row.kind, row.key) for row in session.query(k).all()]


def seen_of_files(store: Store) -> list[dict[str, Any]]:
    with store.read() as session:
        return [vars(row) for row in session.query(tables.ImportSeen).all()]


def back(desk: Desk, run: int | None) -> Any:
    assert run is not None
    look = look_at_taking_back(desk, run)
    done = take_back(desk, run)
    assert (look.voided, look.restored, look.stays) == (done.voided, done.restored, done.stays)
    replan(desk)
    return done


FILES: dict[str, tuple[dict[str, str], ...]] = {
    "people": (CHANGED, OTHER),
    "visits": (
        VISIT | {"right_effusion": "absent", "right_attic_grade": "2"},
        VISIT | {"reference": "V2", "on": "2026-09-03", "person": "P1"},
    ),
    "contacts": (CONTACT, CONTACT | {"on": "2026-09-05"}),
    "bookings": (BOOKING | {"at": "11:40"}, BOOKING | {"reference": "B2", "on": "2026-10-08"}),
}


@pytest.mark.parametrize("kind", FILES)
def test_a_run_that_nobody_touched_since_leaves_everything_as_it_was(
    store: Store, tmp_path: Path, kind: Any
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    take_in(desk, tmp_path, "contacts", CONTACT)
    take_in(desk, tmp_path, "bookings", BOOKING)
    before = held(store)
    losses = len(propose(desk, write(tmp_path / f"{kind}.csv", *FILES[kind]), kind).losses)
    run = take_in(desk, tmp_path, kind, *FILES[kind], takes_away=losses or None).run
    assert held(store) != before and history_is_whole(store)
    assert back(desk, run).stays == []
    assert held(store) == before
    assert history_is_whole(store)


def test_asks_that_ended_with_a_run_stand_again_with_the_next(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    path = write(tmp_path / "visits.csv", VISIT | {"right_attic_grade": "3"})
    run = import_file(desk, path, "visits").run
    asked, referred = replan(desk).dues_asked, len(rows(store, tables.Referral, is_open=True))
    assert asked and referred
    back(desk, run)
    landed = import_file(desk, path, "visits").planned
    again = replan(desk).with_those_of(landed)
    assert (again.dues_asked, again.asked_again) == (0, asked + referred)


def test_what_was_taken_back_can_be_taken_in_again(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    run = take_in(desk, tmp_path, "people", PERSON, OTHER).run
    before = held(store)
    back(desk, run)
    assert rows(store, tables.Person) == rows(store, tables.ContactPoint) == []
    again = take_in(desk, tmp_path, "people", PERSON, OTHER)
    assert again.added + again.changed == 2
    names = [(p["ref"], p["given_names"]) for p in rows(store, tables.Person)]
    assert names == [(p["ref"], p["given_names"]) for p in before["Person"]]
    phones = [r["raw"] for r in rows(store, tables.ContactPoint, kind="phone")]
    assert phones == [r["raw"] for r in before["ContactPoint"] if r["kind"] == "phone"]
    assert history_is_whole(store)


def test_a_confirmed_visit_stays_and_is_listed(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path, by="clara")
    take_in(desk, tmp_path, "people", PERSON, OTHER)
    run = take_in(desk, tmp_path, "visits", VISIT, VISIT | {"reference": "V2", "person": "P2"}).run
    confirm_people(desk, ["P1"])
    done = back(desk, run)
    assert done.stays == ["visit V1: is confirmed"]
    assert [v["ref"] for v in rows(store, tables.Visit)] == ["V1"]
    assert counts(take_in(desk, tmp_path, "visits", VISIT)) == (0, 0, 1, 0)


def test_somebody_who_was_rung_or_changed_since_stays_and_is_listed(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    run = take_in(desk, tmp_path, "people", PERSON, OTHER).run
    with store.write() as session:
        made = {"on": desk.today, "recorded_at": desk.now, "by_id": 1, "person_id": 1}
        session.add(tables.Contact(channel="phone", outcome="no_answer", **made))
    done = back(desk, run)
    assert done.stays == ["person P1: was rung since"]
    assert [p["ref"] for p in rows(store, tables.Person)] == ["P1"]


def test_people_who_were_taken_back_come_again_whole(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", OTHER)
    run = take_in(desk, tmp_path, "people", PERSON, OTHER).run
    whole = held(store)
    back(desk, run)
    take_in(desk, tmp_path, "people", PERSON, OTHER)
    again = held(store)
    assert [p["ref"] for p in rows(store, tables.Person)] == ["P2", "P1"]
    assert again["Keys"] == whole["Keys"]
    said = [[(x["kind"], x["value"]) for x in y["ContactPoint"]] for y in (whole, again)]
    assert said[0] == said[1]
    told = rows(store, tables.History, what="stands_again", entity="person")
    assert [line["entity_id"] for line in told] == [2]
    assert history_is_whole(store)


def test_somebody_who_was_corrected_since_stays_and_is_found_by_what_they_are_called_now(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    run = take_in(desk, tmp_path, "people", PERSON, OTHER).run
    correct(desk, "P2", None, family_name="Vaughan")
    before = [key for key in keys_of_people(store) if key[0] == 2]
    done = back(desk, run)
    assert done.stays == ["person P2: person changed since"]
    assert [p["ref"] for p in rows(store, tables.Person)] == ["P2"]
    assert keys_of_people(store) == before


def test_a_run_before_another_of_its_kind_is_refused_with_the_other(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    first = take_in(desk, tmp_path, "people", PERSON).run
    second = take_in(desk, tmp_path, "people", PERSON, OTHER).run
    assert first is not None and second is not None
    with pytest.raises(Conflict, match=f"Run {second} took people in after run {first}"):
        take_back(desk, first)
    back(desk, second)
    back(desk, first)
    with pytest.raises(NotFound, match=f"There is no run {first}"):
        take_back(desk, first)
    assert rows(store, tables.Person) == []
