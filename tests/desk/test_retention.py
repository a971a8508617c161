"""Whose record has been kept long enough: by the published schedule, or the practice's own.

Source: NHS England, Records Management Code of Practice 2021 (updated 2023), appendix II, by the
Medical Defence Union's summary: adult records 8 years; children's until the 25th birthday, or
the 26th of somebody who was 17 when treatment ended. The worked days below are by hand.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from recall.desk.contacts.bookings import book
from recall.desk.contacts.entries import Booking
from recall.desk.people.deaths import record_death
from recall.desk.people.editing import add_risk
from recall.desk.practice.retention import kept_long_enough, rules_with
from recall.errors import InputError
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, desk_at, open_follow_ups, rows, somebody, visit

SEEN = date(2026, 9, 1)
BY_HAND = {
    "adult": (date(1960, 1, 1), date(2034, 9, 1)),
    "just 18": (date(2008, 9, 1), date(2034, 9, 1)),
    "17, to the day": (date(2008, 9, 2), date(2034, 9, 2)),
    "just 17": (date(2009, 9, 1), date(2035, 9, 1)),
    "16, to the day": (date(2009, 9, 2), date(2034, 9, 2)),
    "six": (date(2020, 3, 2), date(2045, 3, 2)),
    "born on 29 February": (date(2020, 2, 29), date(2045, 3, 1)),
}
"""Born, and the first day on the list, for somebody whose last entry is of 1 September 2026."""


@pytest.mark.parametrize("who", BY_HAND)
def test_the_first_day_is_the_one_by_hand(store: Store, who: str) -> None:
    born, first = BY_HAND[who]
    somebody(desk_at(store, SEEN), born=born)
    assert kept_long_enough(desk_at(store, first - timedelta(days=1), by="mina")) == ()
    (row,) = kept_long_enough(desk_at(store, first, by="mina"))
    assert (row.last, row.kept_until) == (SEEN, first)
    assert row.source.startswith("Records Management Code of Practice 2021")


def test_a_later_entry_of_any_kind_keeps_it_longer_and_what_is_open_keeps_it(store: Store) -> None:
    somebody(desk_at(store, SEEN), "W1", born=date(1960, 1, 1))
    add_risk(desk_at(store, date(2027, 5, 3)), "W1", "diabetes")
    waiting = somebody(desk_at(store, SEEN), "W2", born=date(1961, 1, 1))
    visit(desk_at(store, SEEN), waiting, right=FLUID)
    assert rows(store, tables.FollowUp, person_id=waiting, is_open=True)
    listed = kept_long_enough(desk_at(store, date(2060, 1, 1), "mina"))
    assert {row.reference: row.kept_until for row in listed} == {"W1": date(2035, 5, 3)}


def test_the_day_of_death_and_that_of_an_appointment_are_entries(store: Store) -> None:
    desk = desk_at(store, SEEN)
    somebody(desk, "W1", born=date(1960, 1, 1))
    waiting = somebody(desk, "W2", born=date(1961, 1, 1))
    visit(desk, waiting, right=FLUID)
    (row,) = open_follow_ups(store, waiting)
    book(desk, row["id"], None, Booking(datetime(2027, 6, 1, 10), why_late="away until then"))
    day = date(2027, 5, 3)
    for ref in ("W1", "W2"):
        record_death(desk_at(store, day, "clara"), ref, day, "Rowan Thackwell")

    listed = kept_long_enough(desk_at(store, date(2060, 1, 1), "mina"))

    last = {"W1": day, "W2": date(2027, 6, 1)}
    assert {row.reference: row.last for row in listed} == last


def test_the_practices_own_rule_outranks_the_published_one(store: Store, tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('[adult]\ntitle = "Ours"\nyears_after_last = 10\nsource = "Our policy"\n')
    somebody(desk_at(store, SEEN), born=date(1960, 1, 1))
    assert kept_long_enough(desk_at(store, date(2034, 9, 1), by="mina"), own) == ()
    (row,) = kept_long_enough(desk_at(store, date(2036, 9, 1), by="mina"), own)
    assert (row.rule, row.source) == ("Ours", "Our policy")
    assert rules_with(own).child == rules_with().child


@pytest.mark.parametrize(
    "text",
    (
        "[adult]\ntitle = 'x'\nsource = 'y'\n",
        "[adult]\ntitle = 'x'\nyears_after_last = 8\n",
        "[elder]\ntitle = 'x'\nsource = 'y'\nyears_after_last = 8\n",
        "[adult]\ntitle = 'x'\nsource = 'y'\nyears_after_last = 0\n",
        "no toml",
    ),
)
def test_a_file_that_is_none_of_rules_is_refused(store: Store, tmp_path: Path, text: str) -> None:
    own = tmp_path / "own.toml"
    own.write_text(text)
    with pytest.raises(InputError, match="holds no rules of retention"):
        kept_long_enough(desk_at(store, by="mina"), own)
    with pytest.raises(InputError, match="cannot be read"):
        kept_long_enough(desk_at(store, by="mina"), tmp_path / "missing.toml")


def test_nothing_is_erased_by_the_list(store: Store) -> None:
    somebody(desk_at(store, SEEN), born=date(1960, 1, 1))
    before = rows(store, tables.Person), rows(store, tables.History)
    assert kept_long_enough(desk_at(store, date(2050, 1, 1), by="mina"))
    assert (rows(store, tables.Person), rows(store, tables.History)) == before
