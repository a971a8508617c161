"""All that the four files of a practice write, and what a second and a third file change of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from recall.desk.core.replanning import replan
from recall.desk.core.session import Desk
from recall.desk.imports.importing import import_file
from recall.desk.plans import confirming
from recall.records.database.store import Store
from tests.desk.files import DAY, desk_with, write
from tests.desk.telling import Story

CHILD = {
    "reference": "P1",
    "given_name": "Rowan",
    "family_name": "Thackwell",
    "born": "2018-03-02",
    "sex": "female",
    "nhs_number": "999 000 8116",
    "address_1": "7 Teasel Row",
    "address_2": "Wrenfield",
    "postcode": "WF99 4RR",
    "phone": "01632 960321",
    "phone_2": "07700 900321",
    "email": "home@example.org",
    "gp_name": "Dr Quill",
    "gp_practice": "Mill Surgery",
    "language": "cy",
    "letter_format": "large",
    "interpreter": "Welsh",
    "risks": "down_syndrome; previous_grommet left since 2022-05",
    "adult_1_name": "Ida Thackwell",
    "adult_1_relation": "mother",
    "adult_1_phone": "07700 900322",
    "adult_1_email": "ida@example.org",
    "adult_1_safe_only": "yes",
    "adult_2_name": "Bram Orme",
    "adult_2_relation": "father",
    "adult_2_address": "3 Sedge Lane; Wrenfield",
    "adult_2_postcode": "WF99 4RS",
    "adult_2_phone": "12",
    "deceased_on": "",
    "objected": "",
    "safe_contact": "Ring after four.",
    "tell_gp": "yes",
}
BARE = dict.fromkeys(CHILD, "") | {
    "reference": "P2",
    "family_name": "Orme",
    "born": "1950-06-07",
    "nhs_number": "999 000 8117",
    "phone": "01632 960322",
    "objected": "yes",
    "tell_gp": "no",
}
DEAD = BARE | {"reference": "P3", "given_name": "Col", "deceased_on": "2026-08-01"}
DEAD |= {"nhs_number": "", "objected": "2026-07-30", "postcode": "XX"}
TWIN = CHILD | {"reference": "P4", "risks": "no such risk"}
SAME = CHILD | {"reference": "P5", "risks": "diabetes", "nhs_number": ""}
CHANGED = CHILD | {
    "given_name": "Rowena",
    "family_name": "Orme",
    "born": "2018-03-03",
    "sex": "other",
    "nhs_number": "",
    "address_1": "9 Teasel Row",
    "postcode": "WF99 4RT",
    "phone": "01632 960399",
    "phone_2": "",
    "email": "new@example.org",
    "gp_name": "",
    "language": "",
    "letter_format": "",
    "interpreter": "",
    "risks": "down_syndrome; diabetes",
    "adult_1_phone": "",
    "adult_1_safe_only": "",
    "adult_2_name": "",
    "adult_2_relation": "",
    "adult_2_address": "",
    "adult_2_postcode": "",
    "adult_2_phone": "",
    "safe_contact": "",
    "tell_gp": "no",
}
SEEN = {
    "reference": "V1",
    "person": "P1",
    "on": "2026-09-01",
    "examiner": "Clara Voss",
    "category": "fluid_recheck",
    "reported": "hearing_concern; pain right since 2026-08-20",
    "note": "Held still.",
    "right_drum_seen": "full",
    "right_effusion": "present",
    "left_drum_seen": "full",
    "left_effusion": "absent",
    "left_wax_found": "none",
}
LATER = SEEN | {"reference": "V2", "on": "2026-09-03", "category": "", "reported": "", "note": ""}
ADULT = SEEN | {"reference": "V3", "person": "P2", "examiner": "Nobody", "category": "refer"}
TRIED = {"person": "P1", "on": "2026-09-04", "at": "10:20", "channel": "phone"}
TRIED |= {"outcome": "no_answer", "call_on": "", "by": "Rob Tanner", "note": "Rang twice."}
BOOKED = {"reference": "B1", "person": "P1", "on": "2026-09-04", "at": "10:20", "minutes": "30"}
BOOKED |= {"with": "Clara Voss", "status": "made", "note": "With a ramp."}


def taken_in(
    desk: Desk, folder: Path, kind: Any, *rows: dict[str, str], gone: int | None = None
) -> object:
    path = write(folder / f"{kind}.csv", *rows)
    summary = import_file(desk, path, kind, takes_away=gone)
    refused = summary.rejects_path.read_text("utf-8-sig") if summary.rejects_path else ""
    return summary, refused.splitlines()[1:], replan(desk)


def test_all_that_the_file_of_people_writes(store: Store, tmp_path: Path) -> None:
    told = Story(desk_with(store, tmp_path))
    told("the first file", taken_in, tmp_path, "people", CHILD, BARE, DEAD, TWIN, SAME)
    told.at(DAY.replace(day=9))
    changed = CHANGED, BARE | {"objected": ""}, DEAD, SAME
    told("what would go", taken_in, tmp_path, "people", *changed)
    told("changes", taken_in, tmp_path, "people", *changed, gone=7)
    told.at(DAY.replace(day=10))
    told("changed back", taken_in, tmp_path, "people", CHILD, BARE, gone=1)
    told.agrees("people_file")


def test_all_that_the_file_of_visits_writes(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    taken_in(desk, tmp_path, "people", CHILD, BARE)
    told = Story(desk)
    told("visits", taken_in, tmp_path, "visits", SEEN, LATER, ADULT)
    told("what waits", confirming.waiting)
    told.at(DAY.replace(day=9), "clara")
    told("their plans", confirming.plans)
    told("confirm a person", confirming.confirm_people, ["P2"])
    changed = SEEN | {"left_effusion": "present", "category": "", "note": "", "reported": ""}
    away = LATER | {"right_effusion": "absent", "examiner": ""}
    told.at(DAY.replace(day=9), "rob")
    moved = ADULT | {"person": "P1"}
    told("what would go", taken_in, tmp_path, "visits", changed, away, moved)
    told("changes", taken_in, tmp_path, "visits", changed, away, moved, gone=9)
    told.at(DAY.replace(day=10), "clara")
    told("confirm too many", confirming.confirm_all, 9)
    told("confirm all", confirming.confirm_all, 2)
    told.agrees("visits_file")


def test_all_that_the_files_of_contacts_and_bookings_write(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    taken_in(desk, tmp_path, "people", CHILD, BARE)
    taken_in(desk, tmp_path, "visits", SEEN)
    told = Story(desk)
    bare = TRIED | {"at": "", "by": "", "note": "", "channel": "letter", "outcome": "message_sent"}
    again = TRIED | {"outcome": "call_again_on", "call_on": "2026-09-20"}
    told(
        "contacts",
        taken_in,
        tmp_path,
        "contacts",
        TRIED,
        TRIED,
        bare,
        again,
        bare | {"person": "X"},
    )
    elsewhere = BOOKED | {"with": "Dr Rowe", "minutes": "", "note": "", "reference": ""}
    ended = BOOKED | {"reference": "B2", "on": "2026-10-01", "status": "cancelled_by_person"}
    missed = BOOKED | {"reference": "B3", "status": "did_not_attend", "with": "", "note": ""}
    told("bookings", taken_in, tmp_path, "bookings", BOOKED, elsewhere, ended, missed)
    told.at(DAY.replace(day=9))
    told("changed", taken_in, tmp_path, "contacts", TRIED | {"note": ""}, TRIED, bare, again)
    told("moved", taken_in, tmp_path, "bookings", BOOKED | {"at": "11:00"}, ended, missed)
    told.agrees("contacts_and_bookings_files")
