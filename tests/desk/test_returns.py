"""Who came back in time, counted by hand on a small register: people, not ears."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from scipy.stats import binomtest

from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.oversight.returns import came_back, return_line
from recall.desk.plans import decisions
from recall.desk.plans.decisions import Dates, Decided
from recall.records.database.store import Store
from tests.desk.practice import DAY, desk_at, open_follow_ups, somebody, visit

FLUID_ALONE = Ear(drum_seen="full", effusion="present")
NO_FLUID = Ear(drum_seen="full", effusion="absent")


def with_fluid(desk: Desk, ref: str, **ears: Ear) -> dict:
    """A child with fluid, and the follow-up that comes of it."""
    person_id = somebody(desk, ref)
    visit(desk, person_id, **(ears or {"right": FLUID_ALONE}))
    return dict(open_follow_ups(desk.store, person_id)[0])


def seen(store: Store, row: dict, day: date, **ears: Ear) -> None:
    visit(desk_at(store, day), row["person_id"], **(ears or {"right": NO_FLUID}))


def decided(store: Store, row: dict, on: date, what: str, dates: Dates | None = None) -> None:
    said = Decided(what, "as talked over", considered=True, dates=dates)
    decisions.decide(desk_at(store, on, "clara"), [row["id"]], said)


def test_who_came_back_in_time_is_counted_by_kind(store: Store) -> None:
    """Three children: one seen in time, one seen late, one never seen."""
    desk = desk_at(store)
    rows = [with_fluid(desk, ref) for ref in ("W1", "W2", "W3")]
    earliest, latest = rows[0]["earliest"], rows[0]["latest"]
    seen(store, rows[0], latest)
    seen(store, rows[1], latest + timedelta(days=9))
    end = latest + timedelta(days=30)

    (found,) = came_back(desk_at(store, end))

    window, told = (latest - earliest).days, found.in_time
    assert (found.kind, found.people, told.of, told.hits) == ("fluid_recheck", 3, 3, 1)
    assert told.share == pytest.approx(1 / 3)
    # By hand: 3 at risk, one seen; then 2 at risk, one seen; the third is still awaited.
    assert [(s.at, s.at_risk, s.events) for s in found.curve] == [
        (window, 3, 1),
        (window + 9, 2, 1),
    ]
    assert [s.share for s in found.curve] == pytest.approx([1 / 3, 2 / 3])
    assert found.half_days == window + 9
    # Wilson, E. B. (1927), for 1 of 3, computed with scipy.stats.binomtest(1, 3).
    interval = binomtest(1, 3).proportion_ci(0.95, method="wilson")
    assert (told.low, told.high) == pytest.approx((interval.low, interval.high))


def test_two_ears_of_one_person_tell_no_more_than_one(store: Store) -> None:
    desk = desk_at(store)
    both = {"right": FLUID_ALONE, "left": FLUID_ALONE}
    row = with_fluid(desk, "W1", **both)
    with_fluid(desk, "W2")
    seen(store, row, row["latest"], right=NO_FLUID, left=NO_FLUID)

    (found,) = came_back(desk_at(store, row["latest"] + timedelta(days=1)))

    assert (found.people, found.in_time.hits, found.in_time.of) == (2, 1, 2)


def test_one_ear_left_out_is_not_back(store: Store) -> None:
    desk = desk_at(store)
    row = with_fluid(desk, "W1", right=FLUID_ALONE, left=FLUID_ALONE)
    seen(store, row, row["latest"], right=NO_FLUID)

    (found,) = came_back(desk_at(store, row["latest"] + timedelta(days=1)))

    assert (found.in_time.hits, found.in_time.of, found.curve) == (0, 1, ())


def test_who_went_elsewhere_stays_in_the_whole(store: Store) -> None:
    desk = desk_at(store)
    rows = [with_fluid(desk, ref) for ref in ("W1", "W2")]
    decided(store, rows[0], rows[0]["earliest"], "transferred")
    seen(store, rows[1], rows[1]["latest"])

    (found,) = came_back(desk_at(store, rows[0]["latest"]))

    assert (found.in_time.hits, found.in_time.of, found.otherwise) == (1, 2, 1)
    assert [s.share for s in found.curve] == [0.0, 0.5]


def test_moving_what_is_late_does_not_end_the_wait_for_it(store: Store) -> None:
    desk = desk_at(store)
    row = with_fluid(desk, "W1")
    late = row["latest"] + timedelta(days=3)
    to = late + timedelta(days=40)
    decided(store, row, late, "move", Dates(late, late, to))
    seen(store, row, to)

    (found,) = came_back(desk_at(store, to))

    assert (found.people, found.in_time.hits, found.in_time.of) == (1, 0, 1)
    assert [(s.at, s.share) for s in found.curve] == [((to - row["earliest"]).days, 1.0)]


def test_a_window_that_is_still_open_counts_in_the_curve_alone(store: Store) -> None:
    desk = desk_at(store)
    row = with_fluid(desk, "W1")

    assert came_back(desk_at(store, row["earliest"] - timedelta(days=1))) == ()
    (found,) = came_back(desk_at(store, row["earliest"]))
    assert (found.people, found.in_time.of, found.in_time.share, found.curve) == (1, 0, None, ())


def test_what_the_outlook_gives_can_leave_as_data(store: Store) -> None:
    row = with_fluid(desk_at(store, DAY), "W1")

    (found,) = came_back(desk_at(store, row["latest"]))

    assert (return_line(found).kind, return_line(found).people) == ("fluid_recheck", 1)
