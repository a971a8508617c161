"""The documented columns of every kind of file, from the readers themselves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from recall.exchange.bookings_in import BOOKINGS
from recall.exchange.contacts_in import CONTACTS
from recall.exchange.people_in import PEOPLE
from recall.exchange.referrals_in import REFERRALS
from recall.exchange.rows_in import FileKind
from recall.exchange.tests_in import TESTS
from recall.exchange.visits_in import VISITS

KINDS: dict[str, FileKind[Any]] = {
    k.name: k for k in (PEOPLE, VISITS, CONTACTS, BOOKINGS, REFERRALS, TESTS)
}
"""In the order in which a first set-up imports them."""


@dataclass(frozen=True)
class ColumnRow:
    """One column, as it is shown to whoever prepares a file."""

    column: str
    needed: bool
    holds: str


def column_rows(kind: str) -> tuple[ColumnRow, ...]:
    """Return the columns of a kind of file, in the order in which they are documented.

    >>> column_rows("contacts")[0].column
    'person'
    """
    return tuple(ColumnRow(c.name, c.needed, c.says) for c in KINDS[kind].columns)


def template(kind: str) -> str:
    """Return an empty file of a kind: its headings alone, as CSV."""
    return ",".join(c.name for c in KINDS[kind].columns) + "\r\n"
