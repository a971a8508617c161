"""The CSV files of the practice: every heading stands here, once."""

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path

from making.course import Course, Visit
from making.ears import SIDES
from making.people import Person
from making.rows import Booking, Contact, Fate

PEOPLE = (
    "reference given_name family_name born sex nhs_number address_1 address_2 address_3 "
    "address_4 postcode phone phone_2 email gp_practice language letter_format risks "
    "adult_1_name adult_1_relation adult_1_phone deceased_on objected tell_gp"
).split()
LEVELS = {"hearing_dB": "hearing", "bone_dB": "bone"}
EAR = (
    "examined not_examined wax_found wax_left clearance clearance_tries hearing_after drum_seen "
    "attic_seen effusion red bulging tensa_grade tensa_mobile attic_grade pocket_base_seen "
    "scutum_erosion attic_crust keratin perforation perforation_cause perforation_new discharge "
    "canal_skin treated grommet grommet_on cavity cavity_quiet hearing_aid_fitted_on tympanogram "
    "hearing_screen hearing_250 hearing_500 hearing_1000 hearing_2000 hearing_4000 hearing_8000"
).split()
VISITS = (
    *("reference", "person", "on", "examiner", "category", "reported", "note"),
    *(f"{side}_{name}" for side in SIDES for name in EAR),
)
CONTACTS = ("person", "on", "at", "channel", "outcome", "call_on", "by", "note")
REFERRALS = (
    *("reference", "person", "service", "ear", "sent", "accepted", "seen", "result", "result_on"),
)
BOOKINGS = ("reference", "person", "on", "at", "minutes", "with", "status", "note")

BAD_VISITS = (
    {"reference": "V90001", "on": "31/02/2025", "right_wax_found": "some"},
    {"reference": "V90002", "on": "14/05/2025", "left_wax_found": "lots"},
    {"reference": "V90003", "on": "20/05/2025", "right_wax_left": "occluding"},
)
"""Visits as they are mistyped: no such day, no such word, two findings that cannot both be."""


def british(day: date | None) -> str:
    """Return a day as this practice's program writes it."""
    return day.strftime("%d/%m/%Y") if day else ""


def person_row(person: Person) -> dict[str, str]:
    """Return one row of people.csv."""
    home = person.home
    lines = [line for given in home.lines for line in given.split("\n")]
    row = {
        "reference": person.ref,
        "given_name": person.given,
        "family_name": person.family,
        "born": british(person.born),
        "sex": person.sex,
        "nhs_number": person.nhs_number,
        **{f"address_{n}": line for n, line in enumerate(lines, start=1)},
        "postcode": home.postcode,
        "phone": person.mobile or home.phone,
        "phone_2": home.phone if person.mobile else "",
        "email": person.email,
        "gp_practice": person.gp,
        "language": person.language,
        "letter_format": person.format,
        "risks": "; ".join(person.risks),
        "deceased_on": british(person.deceased_on),
        "objected": british(person.objected_on),
        "tell_gp": "no" if person.ref.endswith("7") else "yes",
    }
    if person.is_child and home.adult:
        row |= {"adult_1_name": home.adult, "adult_1_relation": person.adult_relation}
        row["adult_1_phone"] = row["phone"]
    if home.is_care_home:
        row |= {"adult_1_name": f"The manager, {home.lines[0]}", "adult_1_relation": "care_home"}
    return row


def reported(items: Iterable[str | dict]) -> str:
    """Return what was reported as one cell."""
    cells = []
    for item in items:
        if isinstance(item, str):
            cells.append(item)
            continue
        words = [item["what"], item.get("ear", "")]
        if "since" in item:
            words.append(f"since {item['since']}")
        if "onset_days" in item:
            words.append(f"over {item['onset_days']} days")
        cells.append(" ".join(word for word in words if word))
    return "; ".join(cells)


def ear_cells(side: str, ear: dict) -> dict[str, str]:
    """Return the cells of one ear."""
    cells: dict[str, str] = {}
    for name, value in ear.items():
        if name in LEVELS:
            cells |= {f"{side}_{LEVELS[name]}_{hz}": str(db) for hz, db in value.items()}
        elif name == "tympanogram":
            cells[f"{side}_{name}"] = trace_cell(value)
        elif isinstance(value, bool):
            cells[f"{side}_{name}"] = "yes" if value else "no"
        else:
            cells[f"{side}_{name}"] = str(value)
    return cells


def trace_cell(trace: dict) -> str:
    """Return a tympanogram as one cell."""
    if "type" in trace:
        return str(trace["type"])
    if "flat" in trace:
        return f"flat/{trace['volume_ml']}"
    return f"{trace['peak_daPa']}/{trace['compliance_ml']}/{trace['volume_ml']}"


def visit_row(ref: str, person: Person, visit: Visit) -> dict[str, str]:
    """Return one row of visits.csv."""
    return {
        "reference": ref,
        "person": person.ref,
        "on": british(visit.on),
        "examiner": visit.examiner,
        "category": visit.category,
        "reported": reported(visit.reported),
        "note": visit.note,
        **ear_cells("right", visit.right),
        **ear_cells("left", visit.left),
    }


def seen_rows(courses: Sequence[Course]) -> list[dict[str, str]]:
    """Return the rows of all visits in order of day."""
    seen = sorted(
        (
            (visit.on, course.person.ref, course.person, visit)
            for course in courses
            for visit in course.visits
        ),
        key=lambda each: each[:2],
    )
    return [visit_row(f"V{20001 + n}", p, v) for n, (_, _, p, v) in enumerate(seen)]


def visit_rows(courses: Sequence[Course]) -> list[dict[str, str]]:
    """Return the rows of visits.csv, with the mistyped ones among them."""
    rows = seen_rows(courses)
    for place, bad in enumerate(BAD_VISITS, start=1):
        rows.insert(place * 600, {**bad, "person": courses[place * 11].person.ref})
    rows[1800]["right_drum_seen"] = "full"
    return rows


def contact_row(contact: Contact) -> dict[str, str]:
    """Return one row of contacts.csv."""
    return {
        "person": contact.person,
        "on": british(contact.on),
        "at": contact.at,
        "channel": contact.channel,
        "outcome": contact.outcome,
        "call_on": british(contact.call_on),
        "by": contact.by,
        "note": contact.note,
    }


def booking_row(booking: Booking) -> dict[str, str]:
    """Return one row of bookings.csv."""
    return {
        "reference": booking.ref,
        "person": booking.person,
        "on": british(booking.on),
        "at": booking.at,
        "minutes": "20",
        "with": booking.seen_by,
        "status": booking.status,
        "note": booking.note,
    }


def referral_row(fate: Fate) -> dict[str, str]:
    """Return one row of referrals.csv."""
    return {
        "reference": fate.ref,
        "person": fate.person,
        "service": fate.service,
        "ear": fate.ear,
        "sent": british(fate.sent),
        "accepted": british(fate.accepted),
        "seen": british(fate.seen),
        "result": fate.result,
        "result_on": british(fate.result_on),
    }


def write(path: Path, headings: Sequence[str], rows: Iterable[dict[str, str]]) -> None:
    """Write one file as spreadsheets do: UTF-8, CRLF, quotes only where needed."""
    text = io.StringIO(newline="")
    out = csv.DictWriter(text, headings, restval="")
    out.writeheader()
    out.writerows(rows)
    path.write_bytes(text.getvalue().encode("utf-8"))
