"""Builders that the tests of files in share."""

from __future__ import annotations

import csv
from datetime import date

import pytest

from recall.config import Import
from recall.exchange.bookings_in import read_bookings
from recall.exchange.contacts_in import read_contacts
from recall.exchange.people_in import read_people
from recall.exchange.referrals_in import read_referrals
from recall.exchange.tests_in import read_tests
from recall.exchange.visits_in import read_visits

TODAY = date(2026, 11, 25)
READERS = {
    "people": read_people,
    "visits": read_visits,
    "contacts": read_contacts,
    "bookings": read_bookings,
    "referrals": read_referrals,
    "tests": read_tests,
}


@pytest.fixture(scope="session")
def read(tmp_path_factory):
    """Write rows to a file of a kind, and open it for reading."""

    def reader(kind, *rows, imports=None):
        path = tmp_path_factory.mktemp(kind) / f"{kind}.csv"
        headings = list(dict.fromkeys(heading for row in rows for heading in row))
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, headings, restval="")
            writer.writeheader()
            writer.writerows(rows)
        return READERS[kind](path, imports or Import(), today=TODAY)

    return reader


@pytest.fixture(scope="session")
def only():
    """Return the one row of a reading, which must land."""

    def row(reading):
        (one,) = reading
        assert one.row is not None, one.problems
        return one.row

    return row


@pytest.fixture(scope="session")
def refusal():
    """Return the one problem of the one row of a reading, which must not land."""

    def problem(reading):
        (one,) = reading
        assert one.row is None
        (found,) = [p for p in one.problems if not p.kept]
        return found

    return problem
