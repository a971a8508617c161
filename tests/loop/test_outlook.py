"""The steps ahead: what a person would get if nothing were heard from them.

The order, and that the GP is told at the end, follows the call and recall letters of the
cervical screening programme in England (csas.nhs.uk); the days are common practice.
"""

from __future__ import annotations

from datetime import date
from itertools import combinations

import pytest

from recall.loop.facts import Booked, Facts
from recall.loop.outlook import outlook
from tests.loop.tell import RULES, facts

KINDS = ("phone", "text", "letter", "email")
WAYS = [ways for n in range(5) for ways in combinations(KINDS, n)]


def ahead(about: Facts, on: date) -> list[str]:
    return [f"{step.kind} {step.on}" for step in outlook(about, on, RULES)]


def test_a_window_within_ten_weeks() -> None:
    assert ahead(facts(gp_agreed=True, urgency="high"), date(2026, 9, 1)) == [
        "book_now 2026-09-01",
        "invitation 2026-09-15",
        "phone 2026-10-13",
        "phone 2026-10-15",
        "reminder 2026-10-20",
        "last_letter 2026-10-27",
        "address_check 2026-10-27",
        "tell_gp 2026-11-03",
        "decision 2026-11-10",
    ]


def test_a_window_within_three_weeks_is_rung_about_before_anything_is_posted() -> None:
    wax = facts(earliest=date(2026, 9, 4), target=date(2026, 9, 11), latest=date(2026, 9, 15))

    assert ahead(wax, date(2026, 9, 2)) == [
        "phone 2026-09-02",
        "phone 2026-09-04",
        "invitation 2026-09-06",
        "phone 2026-09-13",
        "phone 2026-09-15",
        "last_letter 2026-09-17",
        "address_check 2026-09-17",
        "decision 2026-10-01",
    ]


def test_an_appointment_ends_what_can_be_foreseen() -> None:
    booked = Booked(on=date(2026, 9, 1), booking=1, day=date(2026, 10, 13))

    assert ahead(facts().with_events(booked), date(2026, 9, 2)) == ["attend 2026-10-13"]


def test_days_never_run_backwards_in_a_year_with_a_leap_day() -> None:
    winter = facts(
        asked_on=date(2027, 8, 31),
        earliest=date(2028, 1, 31),
        target=date(2028, 2, 29),
        latest=date(2028, 3, 31),
    )

    days = [step.on for step in outlook(winter, date(2027, 9, 1), RULES)]

    assert days == sorted(days)
    assert date(2028, 2, 29) in days


def test_no_step_is_said_twice_on_one_day_and_it_ends() -> None:
    written = facts(
        channels=frozenset({"letter", "email"}),
        earliest=date(2026, 9, 4),
        target=date(2026, 9, 11),
        latest=date(2026, 9, 14),
    )

    assert ahead(written, date(2026, 9, 2)) == [
        "address_check 2026-09-02",
        "invitation 2026-09-04",
        "last_letter 2026-09-14",
        "reminder 2026-09-14",
        "decision 2026-09-28",
    ]


@pytest.mark.parametrize("gp_agreed", [None, True])
@pytest.mark.parametrize("moved_on", [None, date(2026, 9, 2)])
@pytest.mark.parametrize("channels", WAYS, ids="+".join)
def test_whatever_ways_there_are_each_day_and_step_comes_once(
    channels: tuple[str, ...], moved_on: date | None, gp_agreed: bool | None
) -> None:
    about = facts(channels=frozenset(channels), moved_on=moved_on, gp_agreed=gp_agreed)

    said = ahead(about, date(2026, 9, 2))

    assert len(said) == len(set(said)) < 15
    rung = {"phone", "text"} <= set(channels)
    assert said[-1].startswith(("decision", "phone") if rung else "decision")


@pytest.mark.parametrize("gp_agreed", [None, True])
@pytest.mark.parametrize("urgency", ["medium", "high", "urgent"])
@pytest.mark.parametrize("channels", WAYS, ids="+".join)
def test_what_is_late_is_done_before_what_follows_it_and_no_day_has_gone_by(
    channels: tuple[str, ...], urgency: str, gp_agreed: bool | None
) -> None:
    about = facts(channels=frozenset(channels), urgency=urgency, gp_agreed=gp_agreed)

    for on in (date(2026, 9, 2), date(2026, 11, 30), date(2026, 12, 20)):
        days = [step.on for step in outlook(about, on, RULES)]
        assert days == sorted(days)
        assert all(day >= on for day in days[1:])
