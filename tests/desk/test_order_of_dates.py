"""The order of day and month belongs to the file: settled by its dates, or asked about."""

from __future__ import annotations

from pathlib import Path

import pytest

from recall.desk.imports.asking_order import WhichOrder
from recall.desk.imports.importing import import_file
from recall.desk.imports.landing import land
from recall.desk.imports.proposing import propose
from recall.errors import InputError
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.files import BOOKING, PERSON, VISIT, desk_with, take_in, write
from tests.desk.practice import rows

OTHER = PERSON | {"reference": "P2", "given_name": "Ivor", "born": "03/25/2017"}


def test_one_date_of_the_other_order_keeps_the_whole_file_out(store: Store, tmp_path: Path) -> None:
    """341 visits and 230 birth dates were once wrong after doing what the program said."""
    desk = desk_with(store, tmp_path)
    path = write(tmp_path / "people.csv", PERSON | {"born": "02/03/2018"}, OTHER)
    said = r"nothing has landed\. Line 3, born: 03/25/2017 is no day as DD/MM/YYYY"
    with pytest.raises(InputError, match=said):
        import_file(desk, path, "people")
    assert rows(store, tables.Person) == []
    land(desk, propose(desk, path, "people", order="month"))
    assert [str(p["born"]) for p in rows(store, tables.Person)] == ["2018-02-03", "2017-03-25"]


def test_two_orders_in_one_file_are_named_both(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    path = write(tmp_path / "people.csv", PERSON | {"born": "25/03/2018"}, OTHER)
    for order in (None, "day", "month"):
        with pytest.raises(InputError, match="mixes two orders"):
            propose(desk, path, "people", order=order)  # type: ignore[arg-type]


def test_a_date_that_is_impossible_both_ways_costs_its_own_row(
    store: Store, tmp_path: Path
) -> None:
    summary = take_in(
        desk_with(store, tmp_path),
        tmp_path,
        "people",
        PERSON | {"born": "14/03/2018"},
        OTHER | {"born": "31/02/2017"},
    )
    assert (summary.added, summary.rejected) == (1, 1)


def test_dates_that_fit_both_ways_are_asked_about(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    path = write(tmp_path / "people.csv", PERSON | {"born": "02/03/2018"})
    said = "02/03/2018 is 2018-03-02 with the day first, and 2018-02-03 with the month first"
    with pytest.raises(WhichOrder, match=said):
        propose(desk, path, "people")
    land(desk, propose(desk, path, "people", order="day"))
    (person,) = rows(store, tables.Person)
    assert str(person["born"]) == "2018-03-02"


def test_a_row_that_stands_twice_in_a_file_says_nothing_of_its_order(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    booked = BOOKING | {"on": "05/01/2027", "reference": ""}
    with pytest.raises(WhichOrder, match="05/01/2027"):
        propose(desk, write(tmp_path / "bookings.csv", booked, booked), "bookings")


def test_a_row_that_is_known_says_the_order_only_with_a_day_that_tells(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    same, tells = PERSON | {"born": "03/03/2018"}, OTHER | {"born": "25/03/2017"}
    take_in(desk, tmp_path, "people", same, tells)
    new = PERSON | {"reference": "P3", "given_name": "Ash", "born": "02/03/2018"}
    with pytest.raises(WhichOrder):
        propose(desk, write(tmp_path / "people.csv", same, new), "people")
    assert propose(desk, write(tmp_path / "people.csv", tells, new), "people").added == 1


def test_a_day_that_is_the_same_both_ways_is_no_question(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    assert take_in(desk, tmp_path, "people", PERSON | {"born": "03/03/2018"}).added == 1


def test_what_the_register_knows_is_the_evidence(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    new = VISIT | {"reference": "V2", "on": "04/05/2026"}
    path = write(tmp_path / "visits.csv", VISIT | {"on": "01/09/2026", "note": "Seen."}, new)
    assert propose(desk, path, "visits").added == 1  # one known visit is as set, none the other way
    write(path, VISIT | {"on": "09/01/2026", "note": "Seen."}, new)
    with pytest.raises(WhichOrder, match="0 fit the first way and 1 the second"):
        propose(desk, path, "visits")


@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("1956-06-11T23:00:00Z", "1956-06-12"),
        ("2018-03-02T00:00:00Z", "2018-03-02"),
        ("2018-03-02T00:00:00.000Z", "2018-03-02"),
        ("1970-01-14T23:00:00.000Z", "1970-01-15"),
        ("2018-07-01T23:30:00+00:00", "2018-07-02"),
        ("2018-07-02T00:00:00+01:00", "2018-07-02"),
        ("2018-12-01T23:30:00Z", "2018-12-01"),
    ],
)
def test_a_time_with_its_zone_moves_no_birth_date(
    store: Store, tmp_path: Path, cell: str, day: str
) -> None:
    """The United Kingdom was an hour ahead all year from 1968 to 1971, as it is in summer
    (tz database, Europe/London; Summer Time Act 1972)."""
    take_in(desk_with(store, tmp_path), tmp_path, "people", PERSON | {"born": cell})
    (person,) = rows(store, tables.Person)
    assert str(person["born"]) == day
