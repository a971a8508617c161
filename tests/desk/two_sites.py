"""An invented practice of two sites and one register, for the tests of what each may see and do."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import msgspec

from recall import config
from recall.clock import Clock
from recall.desk.core.rights import Role
from recall.desk.core.session import Desk, StaffRow
from recall.desk.practice.staff import add_staff
from recall.records.database.store import Store
from tests.desk.practice import DAY, FLUID, desk_at, later, somebody, visit

NORTH = config.Site(
    handle="north",
    name="North site",
    address=("4 Larkspur Yard", "Wrenfield"),
    postcode="WR9 9ZZ",
    phone="01632 960123",
)
SOUTH = config.Site(
    handle="south",
    name="South site",
    address=("2 Weir Street", "Nether Wrenfield"),
    postcode="WR9 8ZY",
    phone="01632 960155",
    opening_hours="Tuesday and Thursday, 9 am to 1 pm.",
)
STAFF = (
    StaffRow(0, "nell", "Nell Abbot", Role.RECEPTION, site="north"),
    StaffRow(0, "sue", "Sue Barley", Role.RECEPTION, site="south"),
    StaffRow(0, "pat", "Pat Corran", Role.PRACTITIONER, site="north", sites=("north", "south")),
    StaffRow(0, "noor", "Noor Dell", Role.CLINICAL_LEAD, site="north"),
)
"""Beside those of the usual register, who have no site of their own: they work for both."""


def take_on(store: Store) -> None:
    """Take on somebody at each site."""
    for member in STAFF:
        add_staff(store, Clock.at(DAY), member, by="clara")


def of_two(desk: Desk) -> Desk:
    """The same desk, of a practice with two sites."""
    return replace(desk, config=msgspec.structs.replace(desk.config, sites=(NORTH, SOUTH)))


def at(store: Store, handle: str, on: date = DAY) -> Desk:
    """The desk of somebody in a practice of two sites."""
    return of_two(desk_at(store, on, by=handle))


def three_children(store: Store) -> dict[str, int]:
    """A child of each site and one of none, each with fluid that is to be looked at again."""
    desk = desk_at(store)
    found = {}
    for ref, site in (("N1", "north"), ("S1", "south"), ("A1", "")):
        found[ref] = somebody(desk, ref, site=site)
        visit(desk, found[ref], right=FLUID)
    return found


def when_late(desk: Desk) -> Desk:
    """The same desk, long after everything was due."""
    return later(desk, 200)
