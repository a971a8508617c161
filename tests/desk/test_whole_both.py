"""Files that tell otherwise than the desk did meanwhile: what stands, what lands, what is asked."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from recall.care.case import Visit
from recall.desk.contacts import bookings, contact_points
from recall.desk.contacts.entries import ContactPoint, MoveTo
from recall.desk.core.session import Desk
from recall.desk.imports.taking_back import look_at_taking_back, take_back
from recall.desk.people import correcting, editing
from recall.desk.people.editing import Adult
from recall.desk.visits import closing, drafting
from recall.desk.visits.drafts import Acceptance, VisitNote
from recall.records import tables
from tests.desk.practice import CLEAR, rows
from tests.desk.telling import Story
from tests.desk.test_whole_changes import changed
from tests.desk.test_whole_files import landed
from tests.desk.whole_practice import ON, at, by

NEXT = ON + timedelta(days=1)


def person_number(desk: Desk, ref: str) -> int:
    number: int = rows(desk.store, tables.Person, ref=ref)[0]["id"]
    return number


def phone_of(desk: Desk, ref: str) -> int:
    """Return somebody's first number."""
    mine = {"person_id": person_number(desk, ref), "kind": "phone"}
    number: int = rows(desk.store, tables.ContactPoint, **mine)[0]["id"]
    return number


def put_right(desk: Desk) -> None:
    """What reception puts right of people on the day before their files come."""
    correcting.correct(desk, "W1021", None, "As on the card.", given_names="Raymund")
    correcting.correct(by(desk, "clara"), "W1045", None, "As on the card.", born=ON.replace(1939))
    editing.edit_details(desk, "W1145", None, language="cy", format="large")
    contact_points.end_contact_point(desk, phone_of(desk, "W1245"), "Cut off.")
    contact_points.edit_contact_point(desk, phone_of(desk, "W1333"), safe="no", label="work")
    other = ContactPoint("phone", "01632 960444")
    contact_points.add_contact_point(desk, "W1365", other, instead_of=phone_of(desk, "W1365"))
    editing.add_adult(desk, "W1473", Adult("Ilan Bogdan", "responsible_adult", "father"))
    editing.add_risk(by(desk, "clara"), "W1477", "diabetes")
    editing.record_objection(desk, "W1501")
    editing.record_unsafe(desk, "W1509")


def test_a_file_of_people_after_the_desk(whole: Desk, tmp_path: Path) -> None:
    told = Story(whole)
    told.at(ON, "rob")
    told("put right", put_right)
    folder = whole.store.path.parent
    told.at(NEXT, "rob")
    landed(told, tmp_path, "people", *changed(folder, "people", {}))
    later = {
        "W1021": {"given_name": "Rae"},
        "W1045": {"born": "30/12/1938"},
        "W1145": {"language": "ur"},
        "W1245": {"phone": "01632 960445"},
        "W1333": {"phone": "01632 960446"},
        "W1365": {"phone": "01632 960447"},
        "W1473": {"adult_1_name": "Mr Ilan Bogdan", "adult_1_relation": "father"},
        "W1477": {"risks": "diabetes"},
        "W1501": {"tell_gp": "no"},
    }
    told.at(NEXT + timedelta(days=1), "rob")
    landed(told, tmp_path, "people", *changed(folder, "people", later))
    run = max(row["id"] for row in rows(whole.store, tables.ImportRun))
    told("what taking it back would do", look_at_taking_back, run)
    editing.edit_details(told.desk, "W1021", None, given_names="Ray")
    told("taken back, one touched since", take_back, run)
    told.agrees("whole_people_both")


def corrected(desk: Desk, number: int, visit: Visit) -> str:
    draft = drafting.correction(desk, number, visit, VisitNote(words="Put right."))
    return closing.close_visit(
        desk, draft, Acceptance(looked=True, milder_why="Looked again.")
    ).words


def test_files_of_visits_and_bookings_after_the_desk(whole: Desk, tmp_path: Path) -> None:
    told = Story(whole)
    told.at(ON, "clara")
    row = rows(whole.store, tables.Visit, person_id=person_number(whole, "W1477"))[-1]
    told("corrected", corrected, row["id"], Visit(on=row["on"], right=CLEAR, left=CLEAR))
    other = rows(whole.store, tables.Visit, person_id=person_number(whole, "W1497"))[-1]
    told("voided", closing.void_visit, other["id"], "Another child's.")
    booked = rows(whole.store, tables.Booking, person_id=person_number(whole, "W1549"))[-1]
    told("moved", bookings.move, booked["id"], MoveTo(at(ON + timedelta(days=9), 9)), "person")
    folder = whole.store.path.parent
    told.at(NEXT, "rob")
    landed(told, tmp_path, "visits", *changed(folder, "visits", {"W1477": {"note": "By post."}}))
    landed(told, tmp_path, "visits", *changed(folder, "visits", {"W1497": {"note": "By post."}}))
    landed(told, tmp_path, "bookings", *changed(folder, "bookings", {"W1549": {"at": "16:20"}}))
    told.agrees("whole_visits_both")
