"""What belongs to a person in a file: adults, ways to reach them, risks, each told by its content.

An item is known by a digest of what the file says of it, so that a file takes away only what
the file itself brought, and what the desk added stays.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from operator import itemgetter
from typing import Any

from recall.care.case import Risk
from recall.care.dates import ADULT_FROM, Before, When, birthday, resolve
from recall.desk.imports.file_digests import digest
from recall.exchange.identifiers import Identifier
from recall.exchange.people_in import AdultRow, PersonRow
from recall.exchange.phone_cells import PhoneCell

ADULT, CONTACT_POINT, RISK = "adult_for", "contact_point", "person_risk"
_PREFIX = {"phone": "own_phones", "email": "own_email", "address": "own_address"}
"""What a way to reach the person themselves is told by in a file's digests."""
ADULTS_OWN = "adults_contact"
OLDER = "contact_point"
"""What earlier versions told all of these by, with the same digests."""
_ROLES = {
    "parent": "responsible_adult",
    "guardian": "responsible_adult",
    "carer": "carer",
    "attorney": "attorney",
    "care_home": "care_home",
}


@dataclass(frozen=True)
class Item:
    """One row of a person: which table, what the file says, whose it is."""

    table: str
    values: dict[str, Any] = field(compare=False)
    adult: str | None = None
    """For a way to reach an adult: the adult's item key."""


Items = dict[str, Item]
_KNOWN_BY = {
    ADULT: itemgetter("name", "role", "relation"),
    CONTACT_POINT: itemgetter("kind", "rank", "raw"),
    RISK: itemgetter("what", "ear", "since", "until"),
}


def key_of(table: str, values: Mapping[str, Any], adult: str | None = None) -> str:
    """Return what an item is known by: from the file's row or from the register's."""
    return f"{_family(table, values, adult)}/{digest((*_KNOWN_BY[table](values), adult))}"


def _family(table: str, values: Mapping[str, Any], adult: str | None) -> str:
    """Return what an item belongs with: things that one group of columns tells."""
    if table != CONTACT_POINT:
        return "adult" if table == ADULT else "risk"
    return ADULTS_OWN if adult else _PREFIX[values["kind"]]


def items_of(row: PersonRow, today: date) -> Items:
    """Return everything that belongs to a person, by key, adults before their own numbers."""
    found: Items = {}
    for item in (*_own_contact_points(row), *_risks(row, today)):
        found[key_of(item.table, item.values, item.adult)] = item
    for adult in row.adults:
        values = _adult(adult, row, today)
        key = key_of(ADULT, values)
        found[key] = Item(ADULT, values)
        for item in _adult_contact_points(adult, key, row):
            found[key_of(item.table, item.values, item.adult)] = item
    return found


def let_nobody_ring(items: Items) -> None:
    """Mark a person's own numbers and addresses as not safe to use."""
    for item in items.values():
        if item.table == CONTACT_POINT and item.adult is None:
            item.values["safe"] = "no"


def _own_contact_points(row: PersonRow) -> Iterator[Item]:
    safe = "no" if any(a.safe_only for a in row.adults) else "yes"
    first = _phones(1, row.phone, safe)
    yield from (Item(CONTACT_POINT, values) for values in first)
    for values in _phones(max(2, len(first) + 1), row.phone_2, safe):
        yield Item(CONTACT_POINT, values)
    if row.email:
        yield Item(CONTACT_POINT, _number("email", 1, row.email, safe))
    if row.address or row.postcode:
        yield Item(CONTACT_POINT, _address(row.address, row.postcode, safe))


def _adult_contact_points(adult: AdultRow, key: str, row: PersonRow) -> Iterator[Item]:
    """Ways to reach an adult; where no address of their own is given they live at the person's."""
    safe = "only_this" if adult.safe_only else "yes"
    for values in _phones(1, adult.phone, safe):
        yield Item(CONTACT_POINT, values, key)
    if adult.email:
        yield Item(CONTACT_POINT, _number("email", 1, adult.email, safe), key)
    if adult.address or adult.postcode:
        yield Item(CONTACT_POINT, _address(adult.address, adult.postcode, safe), key)
    elif row.address or row.postcode:
        yield Item(CONTACT_POINT, _address(row.address, row.postcode, safe), key)


def _phones(first: int, cell: PhoneCell | None, safe: str) -> list[dict[str, Any]]:
    """Return the numbers of a cell in the order to try, with whose each is."""
    numbers = cell.numbers if cell else ()
    return [
        {**_number("phone", rank, number.given, safe), "label": number.label}
        for rank, number in enumerate(numbers, first)
    ]


def _number(kind: str, rank: int, given: Identifier, safe: str) -> dict[str, Any]:
    return {
        "kind": kind,
        "rank": rank,
        "raw": given.raw,
        "value": given.value or None,
        "postcode": None,
        "problem": given.wrong or None,
        "safe": safe,
        "label": "",
    }


def _address(lines: tuple[str, ...], postcode: Identifier | None, safe: str) -> dict[str, Any]:
    """Return an address; a wrong postcode is printed as it was given."""
    shown = (postcode.value or postcode.raw) if postcode else ""
    problem = f"postcode {postcode.wrong}" if postcode and postcode.wrong else None
    text = "\n".join(filter(None, (*lines, shown)))
    return {
        "kind": "address",
        "rank": 1,
        "raw": text,
        "value": text if lines else None,
        "postcode": (postcode.value or None) if postcode else None,
        "problem": problem if lines else "only a postcode",
        "safe": safe,
        "label": "",
    }


def _adult(adult: AdultRow, row: PersonRow, today: date) -> dict[str, Any]:
    """Return an adult; letters to them are written as the person's own would be."""
    other = "responsible_adult" if today < birthday(row.born, ADULT_FROM) else "carer"
    return {
        "name": adult.name,
        "role": _ROLES.get(adult.relation, other),
        "relation": adult.relation.replace("_", " "),
        "language": row.language,
        "format": row.letter_format or "standard",
    }


def _risks(row: PersonRow, today: date) -> Iterator[Item]:
    for risk in row.risks:
        known = risk if isinstance(risk, Risk) else Risk(what=risk)
        values = {
            "what": known.what,
            "ear": known.ear,
            "since": _day(known.since, today),
            "until": _day(known.until, today),
        }
        yield Item(RISK, values)


def _day(when: When | None, today: date) -> str | None:
    """Return a day or a month; how long ago is counted back from today."""
    if isinstance(when, Before):
        return resolve(when, today).on.isoformat()
    return when
