"""The floor of an import: a file parsed, validated, and made the rows that it tells, no more.

The same libraries as the program's check each cell, each as often as it stands there. What comes
out is compared with the rows of the register, column by column, so that the floor does the same.
"""

from __future__ import annotations

import csv
import re
from datetime import date, datetime
from pathlib import Path

import msgspec
import phonenumbers
from email_validator import validate_email
from stdnum.gb import nhs

from recall.care.ear import Ear

Rows = tuple[list[str], list[tuple[object, ...]]]
"""Columns and values of a table."""
POSTCODE = re.compile("[A-Z]{1,2}[0-9][0-9A-Z]? ?[0-9][A-Z]{2}")
_SIDES = ("right", "left")


def _day(cell: str) -> date:
    return datetime.strptime(cell, "%d/%m/%Y").date()


def people(path: Path) -> dict[str, Rows]:
    """Return the rows of people and of what belongs to them."""
    found: list[tuple[object, ...]] = []
    ways: list[tuple[object, ...]] = []
    risks: list[tuple[object, ...]] = []
    with path.open(encoding="utf-8", newline="") as file:
        for number, row in enumerate(csv.DictReader(file), 1):
            code, whole, born = row["postcode"], row["nhs_number"], _day(row["born"]).isoformat()
            if (whole and not nhs.is_valid(whole)) or not POSTCODE.fullmatch(code):
                continue
            phone = phonenumbers.parse(row["phone"], "GB")
            phonenumbers.is_valid_number(phone)  # no number kept for fiction is
            value = phonenumbers.format_number(phone, phonenumbers.PhoneNumberFormat.E164)
            email = validate_email(row["email"], check_deliverability=False).normalized
            address = f"{row['address_1']}\n{code}"
            names = row["given_name"], row["family_name"]
            found.append((number, row["reference"], *names, born, whole or None))
            ways += [
                (number, "phone", row["phone"], value, None),
                (number, "email", row["email"], email, None),
                (number, "address", address, address, code),
            ]
            if row["risks"]:
                risks.append((number, row["risks"]))
    return {
        "person": (["id", "ref", "given_names", "family_name", "born", "nhs_number"], found),
        "contact_point": (["person_id", "kind", "raw", "value", "postcode"], ways),
        "person_risk": (["person_id", "what"], risks),
    }


def visits(path: Path, born: dict[str, tuple[int, date]]) -> dict[str, Rows]:
    """Return the rows of visits and of their findings; `born` gives people by reference."""
    found: list[tuple[object, ...]] = []
    findings: list[tuple[object, ...]] = []
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            on, (person, birth) = _day(row["on"]), born[row["person"]]
            if on < birth:
                continue
            number = len(found) + 1
            found.append((number, person, row["reference"], row["examiner"], on.isoformat()))
            for side in _SIDES:
                start = f"{side}_"
                cells = {k[len(start) :]: v for k, v in row.items() if v and k.startswith(start)}
                ear = msgspec.convert(cells, Ear, strict=False)
                findings.append((number, side, msgspec.json.encode(ear).decode()))
    return {
        "visit": (["id", "person_id", "ref", "examiner", "on"], found),
        "findings": (["visit_id", "ear", "content"], findings),
    }


def like(made: dict[str, Rows], ours: dict[str, Rows]) -> dict[str, Rows]:
    """Return the columns that no file tells, each with its one value in all rows of ours.

    Raises:
        AssertionError: the floor made other rows than the register holds.
    """
    rest: dict[str, Rows] = {}
    for table, (told, rows) in made.items():
        columns, held = ours[table]
        places = [columns.index(name) for name in told]
        mine = [tuple(row[place] for place in places) for row in held]
        assert mine == rows, f"the floor made other rows of {table}"
        others = [name for name in columns if name not in (*told, "id")]
        rest[table] = (others, [tuple(held[0][columns.index(name)] for name in others)])
    return rest
