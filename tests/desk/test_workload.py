"""The work ahead and who came back in time, counted by hand on a small register."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import msgspec
import pytest
from scipy.stats import binomtest

from recall.care.ear import Ear
from recall.desk.contacts.bookings import book
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.oversight import workload
from recall.records.database.store import Store
from recall.schedule.calendar import Calendar
from tests.desk.practice import DAY, desk_at, later, open_follow_ups, somebody, visit

FLUID_ALONE = Ear(drum_seen="full", effusion="present")
NO_FLUID = Ear(drum_seen="full", effusion="absent")


def with_fluid(desk: Desk, ref: str) -> dict:
    """A child with fluid, and the follow-up that comes of it."""
    person_id = somebody(desk, ref)
    visit(desk, person_id, right=FLUID_ALONE)
    return dict(open_follow_ups(desk.store, person_id)[0])


def monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def week_of(desk: Desk, day: date) -> workload.Week:
    return next(w for w in workload.workload(desk, 30) if w.monday == monday(day))


def test_an_open_follow_up_is_wanted_in_the_week_of_its_target(store: Store) -> None:
    desk = desk_at(store)
    row = with_fluid(desk, "W1")

    week = week_of(desk, row["target"])

    assert (week.wanted, week.booked, week.waiting) == (1, 0, 0)
    assert week_of(desk, row["latest"]).latest == 1
    assert sum(w.asked for w in workload.workload(desk, 30)) == 1


def test_a_booked_one_counts_in_the_week_of_its_appointment_only(store: Store) -> None:
    desk = desk_at(store)
    row = with_fluid(desk, "W1")
    day = row["earliest"] + timedelta(days=-row["earliest"].weekday() + 7)
    book(desk, row["id"], row["version"], Booking(datetime.combine(day, time(10))))

    assert week_of(desk, day).booked == 1
    assert sum(w.wanted for w in workload.workload(desk, 30)) == 0


def test_what_is_late_waits_in_the_first_week(store: Store) -> None:
    desk = desk_at(store)
    row = with_fluid(desk, "W1")
    after = later(desk, (row["latest"] - DAY).days + 10)

    weeks = workload.workload(after)

    assert len(weeks) == 12
    assert [w.waiting for w in weeks] == [1] + [0] * 11
    assert weeks[0].asked == 1


def test_a_week_with_a_closed_day_gives_less(store: Store) -> None:
    desk = desk_at(store)
    closed = Calendar(holidays={monday(DAY): "Summer Bank Holiday"})

    assert workload.capacity(desk, monday(DAY)) == 100
    assert workload.capacity(replace(desk, calendar=closed), monday(DAY)) == 80
    never = replace(desk, calendar=Calendar(weekdays=frozenset()))
    assert workload.capacity(never, monday(DAY)) == 0


def test_a_week_is_over_by_what_it_cannot_give() -> None:
    week = workload.Week(DAY, booked=60, wanted=30, waiting=20, latest=0, capacity=100)

    assert (week.asked, week.over) == (110, 10)


def test_who_came_back_in_time_is_counted_by_kind(store: Store) -> None:
    """Three children: one seen in time, one seen late, one never seen."""
    desk = desk_at(store)
    rows = [with_fluid(desk, ref) for ref in ("W1", "W2", "W3")]
    earliest, latest = rows[0]["earliest"], rows[0]["latest"]
    visit(desk_at(store, latest), rows[0]["person_id"], right=NO_FLUID)
    visit(desk_at(store, latest + timedelta(days=9)), rows[1]["person_id"], right=NO_FLUID)
    end = latest + timedelta(days=30)

    (found,) = workload.came_back(desk_at(store, end))

    window = (latest - earliest).days
    assert (found.category, found.asked, found.due, found.in_time) == ("fluid_recheck", 3, 3, 1)
    assert found.share == pytest.approx(1 / 3)
    # By hand: 3 at risk, one seen; then 2 at risk, one seen; the third is still awaited.
    assert [(s.at, s.at_risk, s.events) for s in found.curve] == [
        (window, 3, 1),
        (window + 9, 2, 1),
    ]
    assert [s.left for s in found.curve] == pytest.approx([2 / 3, 1 / 3])
    assert found.half_days == window + 9
    # Wilson, E. B. (1927), for 1 of 3, computed with scipy.stats.binomtest(1, 3).
    interval = binomtest(1, 3).proportion_ci(0.95, method="wilson")
    assert (found.low, found.high) == pytest.approx((interval.low, interval.high))


def test_a_window_that_is_still_open_counts_in_the_curve_alone(store: Store) -> None:
    desk = desk_at(store)
    row = with_fluid(desk, "W1")

    assert workload.came_back(desk_at(store, row["earliest"] - timedelta(days=1))) == ()
    (found,) = workload.came_back(desk_at(store, row["earliest"]))
    assert (found.asked, found.due, found.share, found.curve) == (1, 0, None, ())


def test_what_the_outlook_gives_can_leave_as_data(store: Store) -> None:
    desk = desk_at(store)
    row = with_fluid(desk, "W1")

    (found,) = workload.came_back(desk_at(store, row["latest"]))

    assert msgspec.to_builtins(found)["category"] == "fluid_recheck"
