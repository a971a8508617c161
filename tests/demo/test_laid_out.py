"""The files are laid out for the day on which that is done; the first morning can be worked.

Sizes of lists are those of a practice with one receptionist: common practice, no source.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest

from recall.clock import Clock
from recall.config import load
from recall.desk.core.session import Desk, open_desk
from recall.desk.oversight.counts import counts
from recall.desk.practice import demo
from recall.desk.practice.demo_files import lay_out, lay_out_for_today, moved, source
from recall.desk.worklists.queue_lines import queue_lines
from recall.exchange.holidays_source import practice_calendar

WEDNESDAY = date(2028, 8, 23)


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def day(text: str) -> date:
    return date(*(int(part) for part in reversed(text.split("/"))))


@pytest.fixture(scope="module")
def wednesday(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The files as they are laid out on a Wednesday a year and a half later."""
    return lay_out(tmp_path_factory.mktemp("wednesday"), WEDNESDAY).parent


def test_for_the_day_that_they_were_written_for_they_stay_as_they_are(tmp_path: Path) -> None:
    lay_out(tmp_path, demo.ON)
    files = [file for file in source().iterdir() if file.suffix in (".csv", ".toml")]
    assert len(files) == 6
    for file in files:
        assert (tmp_path / file.name).read_bytes() == file.read_bytes()


def test_days_move_by_working_days_and_keep_their_order() -> None:
    days = [demo.ON + timedelta(days=n) for n in range(-900, 90)]
    there = [moved(each, WEDNESDAY) for each in days]

    assert moved(demo.ON, WEDNESDAY) == WEDNESDAY
    assert there == sorted(there)
    assert all(each.weekday() < 5 for each in there)


def test_nobody_is_seen_at_a_weekend_and_ages_stay(wednesday: Path) -> None:
    for name in ("visits", "contacts", "bookings"):
        assert all(day(row["on"]).weekday() < 5 for row in rows(wednesday, name)[:500])
    before = {row["reference"]: day(row["born"]) for row in rows(source(), "people")}
    later = WEDNESDAY - demo.ON
    assert all(day(row["born"]) - before[row["reference"]] == later
               for row in rows(wednesday, "people"))  # fmt: skip


def test_the_settings_know_the_day_it_went_live_and_the_closed_weeks(wednesday: Path) -> None:
    config = load(wednesday / "recall.toml")
    was = load(source() / "recall.toml").changeover.went_live

    assert was is not None and config.changeover.went_live == moved(was, WEDNESDAY)
    calendar = practice_calendar(config.calendar, 2027, 2029)
    for year in (2027, 2028, 2029):
        assert calendar.closed_because(date(year, 12, 28)) is not None
    made = [day(row["on"]) for row in rows(wednesday, "bookings") if row["status"] == "made"]
    assert made and all(calendar.is_open(each) for each in made)


@pytest.mark.parametrize(
    ("today", "on"),
    [
        (date(2027, 3, 11), date(2027, 3, 11)),
        (date(2027, 3, 14), date(2027, 3, 12)),
        (date(2027, 3, 26), date(2027, 3, 25)),
        (date(2027, 12, 30), date(2027, 12, 23)),
    ],
)
def test_on_a_closed_day_it_is_the_last_open_one(today: date, on: date, tmp_path: Path) -> None:
    """26 March 2027 is Good Friday (Easter Sunday is 28 March 2027)."""
    assert lay_out_for_today(tmp_path, today) == on


@pytest.fixture(scope="module", params=[demo.ON, date(2027, 6, 10)])
def first_morning(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Desk]:
    path, on = demo.make(tmp_path_factory.mktemp("demo"), request.param, lambda _line: None)
    desk = open_desk(load(path), by=demo.WHO, clock=Clock.at(on))
    yield desk
    desk.close()


def test_the_first_morning_is_one_that_one_receptionist_can_work(first_morning: Desk) -> None:
    found = counts(first_morning)

    assert 20 <= found.by_step.to_reach <= 40
    assert 5 <= found.overdue < 15
    assert 2 <= found.by_step.lost <= 5
    assert 5 <= found.referrals <= 20
    assert 20 <= found.by_step.letters <= 40
    assert found.unconfirmed == 0


def test_what_waits_from_before_is_a_few_days_work(first_morning: Desk) -> None:
    a_day = first_morning.config.changeover.a_day

    assert a_day < counts(first_morning).history <= 4 * a_day


def test_a_care_home_is_rung_about_several_people(first_morning: Desk) -> None:
    places = [line.postcode for line in queue_lines(first_morning)]

    assert places.count("WF99 7UJ") >= 3
