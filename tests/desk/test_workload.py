"""The work ahead, counted by hand on a small register."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

from recall.care.ear import Ear
from recall.desk.contacts.bookings import book
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.oversight import workload
from recall.records.database.store import Store
from recall.schedule.calendar import Calendar
from tests.desk.practice import DAY, desk_at, later, open_follow_ups, somebody, visit

FLUID_ALONE = Ear(drum_seen="full", effusion="present")


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
