"""The kinds of files that are taken in, in the order in which a first set-up brings them."""

from __future__ import annotations

from typing import Any, Literal

from recall.desk.imports import contacts_and_bookings, people, referrals, tests_elsewhere, visits
from recall.desk.imports.file_digests import Importer

Kind = Literal["people", "visits", "contacts", "bookings", "referrals", "tests"]
IMPORTERS: dict[Kind, Importer[Any]] = {
    "people": people.IMPORTER,
    "visits": visits.IMPORTER,
    "contacts": contacts_and_bookings.CONTACTS,
    "bookings": contacts_and_bookings.BOOKINGS,
    "referrals": referrals.REFERRALS,
    "tests": tests_elsewhere.TESTS,
}
