"""The invented practice's files can be read: only rows meant to be wrong are sent back."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from recall.config import load
from recall.exchange.bookings_in import read_bookings
from recall.exchange.contacts_in import read_contacts
from recall.exchange.people_in import read_people
from recall.exchange.referrals_in import read_referrals
from recall.exchange.visits_in import read_visits

PRACTICE = Path(__file__).resolve().parents[2] / "demo" / "practice"
DEMO_DAY = date(2027, 3, 8)


@pytest.mark.parametrize(
    ("name", "read", "wrong"),
    [
        ("people", read_people, ["born", "born"]),
        ("visits", read_visits, ["on", "left_wax_found", "right_drum_seen"]),
        ("contacts", read_contacts, []),
        ("bookings", read_bookings, []),
        ("referrals", read_referrals, []),
    ],
)
def test_only_the_mistyped_rows_are_sent_back(
    name: str, read: Callable[..., Any], wrong: list[str]
) -> None:
    config = load(PRACTICE / "recall.toml")
    reading = read(PRACTICE / f"{name}.csv", config.imports, today=DEMO_DAY)
    assert reading.ignored == ()
    sent_back = [row.problems[-1].column for row in reading if row.row is None]
    assert sent_back == wrong


def test_wrong_numbers_are_kept_aside_and_their_people_land() -> None:
    config = load(PRACTICE / "recall.toml")
    reading = read_people(PRACTICE / "people.csv", config.imports, today=DEMO_DAY)
    kept = {p.column for row in reading if row.row is not None for p in row.problems}
    assert {"phone", "nhs_number", "postcode", "email"} <= kept


def test_nobody_is_seen_before_they_are_born() -> None:
    config = load(PRACTICE / "recall.toml")
    read: dict[str, Any] = {"imports": config.imports, "today": DEMO_DAY}
    people = read_people(PRACTICE / "people.csv", **read)
    born = {row.row.reference: row.row.born for row in people if row.row is not None}
    for row in read_visits(PRACTICE / "visits.csv", **read):
        if row.row is not None and row.row.person in born:
            assert row.row.visit.on > born[row.row.person]
