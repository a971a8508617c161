"""Files land whole, once, and bad rows come back to be completed."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from recall.desk.core.replanning import mark_everybody, replan
from recall.desk.imports.importing import import_file, kind_of
from recall.errors import InputError
from recall.records import tables
from recall.records.database.store import Store
from recall.records.people.finding import find
from tests.bare import content
from tests.desk.files import (
    BOOKING,
    CONTACT,
    PERSON,
    VISIT,
    counts,
    desk_with,
    take_in,
    to_plan,
    write,
)
from tests.desk.practice import history_is_whole, open_follow_ups, rows


def test_people_and_visits_land_and_are_planned(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    assert counts(take_in(desk, tmp_path, "people", PERSON)) == (1, 0, 0, 0)
    assert counts(take_in(desk, tmp_path, "visits", VISIT)) == (1, 0, 0, 0)
    (person,) = rows(store, tables.Person)
    (visit,) = rows(store, tables.Visit)
    assert (visit["source"], visit["confirmed_at"], visit["examiner_id"]) == ("imported", None, 1)
    (follow_up,) = open_follow_ups(store, person["id"])
    assert follow_up["tracks"] == ("fluid",)
    assert to_plan(store) == []
    assert history_is_whole(store)


def test_the_same_files_again_change_nothing(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    given = {"people": PERSON, "visits": VISIT, "contacts": CONTACT, "bookings": BOOKING}
    for kind, row in given.items():
        take_in(desk, tmp_path, kind, row)  # type: ignore[arg-type]
    store.close()
    before = content(store.path)
    for kind, row in given.items():
        again = take_in(desk, tmp_path, kind, row)  # type: ignore[arg-type]
        assert counts(again) == (0, 0, 1, 0), kind
    store.close()
    assert content(store.path) == before


def test_a_row_written_otherwise_but_saying_the_same_is_unchanged(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    again = take_in(desk, tmp_path, "people", {**PERSON, "born": "02/03/2018", "sex": ""})
    assert counts(again) == (0, 0, 1, 0)


def test_bad_rows_come_back_and_their_corrected_file_completes_the_import(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    bad = {**PERSON, "reference": "P2", "born": "31/02/2018"}
    summary = take_in(desk, tmp_path, "people", PERSON, bad)
    assert counts(summary) == (1, 0, 0, 1)
    assert summary.rejects_path is not None
    text = summary.rejects_path.read_text("utf-8-sig")
    (row,) = csv.DictReader(text.splitlines())
    assert (row["reference"], row["reject_line"], row["reject_column"]) == ("P2", "3", "born")
    summary.rejects_path.write_text(text.replace("31/02/2018", "28/02/2018"), "utf-8")
    completed = import_file(desk, summary.rejects_path, "people")
    assert counts(completed) == (1, 0, 0, 0)
    assert [p["ref"] for p in rows(store, tables.Person)] == ["P1", "P2"]


def test_what_only_the_register_can_know_is_refused_with_its_column(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    nobody = {**VISIT, "reference": "V2", "person": "P9"}
    unborn = {**VISIT, "reference": "V3", "on": "2018-03-01"}
    summary = take_in(desk, tmp_path, "visits", VISIT, nobody, unborn)
    assert counts(summary) == (1, 0, 0, 2)
    assert summary.rejects_path is not None
    told = list(csv.DictReader(summary.rejects_path.read_text("utf-8-sig").splitlines()))
    assert [(r["reference"], r["reject_column"]) for r in told] == [("V2", "person"), ("V3", "on")]
    assert "before the birth" in told[1]["reject_wrong"]


def test_a_wrong_number_is_kept_aside_and_the_person_lands(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    summary = take_in(desk, tmp_path, "people", {**PERSON, "phone": "12", "postcode": "XX"})
    assert counts(summary) == (1, 0, 0, 0)
    assert {p.column for p in summary.kept_aside} == {"phone", "postcode"}
    kept = {r["kind"]: r for r in rows(store, tables.ContactPoint) if r["adult_id"] is None}
    assert (kept["phone"]["value"], kept["phone"]["raw"]) == (None, "12")
    assert kept["address"]["postcode"] is None
    assert kept["address"]["value"] == "7 Teasel Row\nXX"


def test_one_name_birth_date_and_postcode_twice_is_told_and_not_merged(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    twin = {**PERSON, "reference": "P2", "given_name": "Róisín"}
    same = {**PERSON, "reference": "P3", "family_name": "THACKWELL"}
    summary = take_in(desk, tmp_path, "people", PERSON, twin, same)
    assert counts(summary) == (2, 0, 1, 0)
    assert [t.refs for t in summary.possible_duplicates] == [("P1", "P3")]
    assert len(rows(store, tables.Person)) == 3


def test_a_file_changes_only_what_the_file_changed(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", {**PERSON, "gp_name": "Dr Pell", "risks": "diabetes"})
    with store.write() as session:  # the desk put the name and a risk right meanwhile
        (person,) = session.query(tables.Person).all()
        person.family_name = "Thackwell-Orme"
        made = {"on": desk.today, "recorded_at": desk.now, "by_id": 1, "person_id": person.id}
        session.add(tables.PersonRisk(what="anticoagulant", **made))
    summary = take_in(
        desk, tmp_path, "people", {**PERSON, "gp_name": "Dr Rowe", "risks": "dementia"}
    )
    assert counts(summary) == (0, 1, 0, 0)
    (after,) = rows(store, tables.Person)
    assert (after["gp"], after["family_name"]) == ("Dr Rowe", "Thackwell-Orme")
    risks = {r["what"] for r in rows(store, tables.PersonRisk)}
    assert risks == {"anticoagulant", "dementia"}
    assert history_is_whole(store)


def test_a_new_number_takes_the_place_of_the_files_old_one(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "people", {**PERSON, "phone": "01632 960999"})
    phones = [r["raw"] for r in rows(store, tables.ContactPoint, kind="phone")]
    assert phones == ["01632 960999"]
    with store.read() as session:
        assert [p.ref for p in find(session, "960999")] == ["P1"]
        assert find(session, "960321") == ()


def test_an_added_risk_plans_the_person_again(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    import_file(desk, write(tmp_path / "people.csv", {**PERSON, "risks": "cleft_palate"}), "people")
    asked = {d["rule"] for d in rows(store, tables.Due, is_open=True)}
    assert [rule for rule in asked if rule.startswith("cleft-")]
    assert to_plan(store) == []


def test_a_changed_visit_is_a_new_row_that_waits_for_a_clinician(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    summary = take_in(desk, tmp_path, "visits", {**VISIT, "right_effusion": "absent"}, takes_away=2)
    assert counts(summary) == (0, 1, 0, 0)
    (stands,) = rows(store, tables.Visit)
    assert (stands["corrects_id"], stands["confirmed_at"]) == (1, None)
    assert open_follow_ups(store, stands["person_id"]) == []


def test_a_visit_that_the_desk_voided_stays_voided_when_the_file_comes_again(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path, by="clara")
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    from recall.desk.visits.closing import void_visit

    void_visit(desk, 1, "Entered for the wrong person.")
    assert counts(take_in(desk, tmp_path, "visits", VISIT)) == (0, 0, 1, 0)
    assert rows(store, tables.Visit) == []


def test_a_birth_date_after_a_visit_is_refused(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    assert counts(take_in(desk, tmp_path, "people", {**PERSON, "born": "2026-09-02"}))[3] == 1


def test_a_stopped_planning_goes_on_where_it_was(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    people = [{**PERSON, "reference": f"P{n}"} for n in range(5)]
    import_file(desk, write(tmp_path / "people.csv", *people), "people")
    visits = [{**VISIT, "reference": f"V{n}", "person": f"P{n}"} for n in range(5)]
    import_file(desk, write(tmp_path / "visits.csv", *visits), "visits")
    assert len(to_plan(store)) == 5

    class Stopped(Exception):
        pass

    def stop(done: int, total: int) -> None:
        raise Stopped

    with pytest.raises(Stopped):
        replan(desk, stop)
    replan(desk)
    assert to_plan(store) == []
    assert len(rows(store, tables.FollowUp, is_open=True)) == 5
    assert mark_everybody(desk) == 5
    assert replan(desk).dues_asked == 0


def test_nothing_lands_where_writing_fails(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = desk_with(store, tmp_path)
    people = [{**PERSON, "reference": f"P{n}"} for n in range(3)]
    bad = {**PERSON, "reference": "P9", "born": "never"}
    path = write(tmp_path / "people.csv", *people, bad)

    def fails(*_given: object) -> None:
        raise RuntimeError("the machine stopped")

    monkeypatch.setattr("recall.desk.imports.pages.history.append_all", fails)
    with pytest.raises(RuntimeError):
        import_file(desk, path, "people")
    assert rows(store, tables.Person) == []
    assert list(tmp_path.glob("*rejects*")) == []


@pytest.mark.parametrize(
    "name",
    ["O'Neil [/b] [Jr", "Ó Súilleabháin", "Ng", "=cmd()", "Łukasz-Żółć", "محمد", "Δημήτρης", "—"],
)
def test_awkward_names_land_as_they_are(store: Store, tmp_path: Path, name: str) -> None:
    desk = desk_with(store, tmp_path)
    assert take_in(desk, tmp_path, "people", {**PERSON, "family_name": name}).added == 1
    assert rows(store, tables.Person)[0]["family_name"] == name


def test_contacts_and_bookings_find_the_follow_up_they_were_about(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    take_in(desk, tmp_path, "contacts", CONTACT, CONTACT)  # twice the same is two calls
    take_in(desk, tmp_path, "bookings", BOOKING)
    (follow_up,) = rows(store, tables.FollowUp)
    assert [c["follow_up_id"] for c in rows(store, tables.Contact)] == [follow_up["id"]] * 2
    assert rows(store, tables.Booking)[0]["follow_up_id"] == follow_up["id"]
    assert follow_up["step"] == "attend"


def test_what_became_of_a_booking_takes_the_old_row_s_place(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    past = {**BOOKING, "on": "2026-09-04"}
    take_in(desk, tmp_path, "bookings", past)
    summary = take_in(desk, tmp_path, "bookings", {**past, "status": "was_not_brought"})
    assert counts(summary) == (0, 1, 0, 0)
    assert [e["what"] for e in rows(store, tables.BookingEvent)] == ["was_not_brought"]
    assert len(rows(store, tables.Booking)) == 1


def test_the_kind_is_told_by_name_or_headings(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    assert kind_of(write(tmp_path / "our people 2026.csv", PERSON), desk) == "people"
    assert kind_of(write(tmp_path / "export.csv", BOOKING), desk) == "bookings"
    with pytest.raises(InputError, match="cannot be read"):
        kind_of(tmp_path / "nothing.csv", desk)
    with pytest.raises(InputError, match="does not show"):
        kind_of(write(tmp_path / "list.csv", {"a": "b"}), desk)
