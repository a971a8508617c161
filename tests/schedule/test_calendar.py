"""The practice's calendar.

Next working days are those of the holidays library for the nations of the United Kingdom
(Banking and Financial Dealings Act 1971 and yearly proclamations; St Andrew's Day 2007 asp 2).
"""

from __future__ import annotations

from datetime import date, timedelta

import holidays
import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.schedule.calendar import Calendar, say_day

YEARS = range(2025, 2030)
NATIONS = {
    n: holidays.country_holidays("GB", subdiv=n, years=YEARS) for n in ("ENG", "SCT", "NIR", "WLS")
}
ENGLAND = Calendar(holidays=dict(NATIONS["ENG"]))
DAYS = st.dates(date(2025, 1, 1), date(2029, 11, 30))


@pytest.mark.parametrize(
    ("nation", "day", "following"),
    [
        ("ENG", date(2026, 12, 25), date(2026, 12, 29)),
        ("ENG", date(2026, 4, 3), date(2026, 4, 7)),
        ("ENG", date(2026, 4, 6), date(2026, 4, 7)),
        ("SCT", date(2026, 4, 6), date(2026, 4, 6)),
        ("SCT", date(2026, 1, 1), date(2026, 1, 5)),
        ("ENG", date(2027, 12, 25), date(2027, 12, 29)),
        ("ENG", date(2028, 1, 1), date(2028, 1, 4)),
        ("SCT", date(2028, 1, 1), date(2028, 1, 5)),
        ("NIR", date(2026, 7, 12), date(2026, 7, 14)),
    ],
)
def test_the_next_open_day_over_public_holidays(nation: str, day: date, following: date) -> None:
    assert Calendar(holidays=dict(NATIONS[nation])).open_from(day) == following


@given(st.sampled_from(sorted(NATIONS)), DAYS, st.integers(1, 12))
def test_working_days_agree_with_the_holidays_library(nation: str, day: date, count: int) -> None:
    calendar = Calendar(holidays=dict(NATIONS[nation]))

    assert calendar.is_open(day) == NATIONS[nation].is_working_day(day)
    assert calendar.working_days_after(day, count) == NATIONS[nation].get_nth_working_day(
        day, count
    )


@given(
    st.frozensets(st.integers(0, 6)),
    st.frozensets(DAYS, max_size=4),
    st.frozensets(DAYS, max_size=4),
    DAYS,
    st.integers(0, 60),
)
def test_the_rule_of_recurrence_gives_the_days_that_are_open_one_by_one(
    weekdays: frozenset[int],
    closed: frozenset[date],
    extra: frozenset[date],
    first: date,
    length: int,
) -> None:
    """Near days too, so that closures, holidays and extra days fall on the same day."""
    near = {first + timedelta(days=n): "" for n in (0, 3, length)}
    calendar = Calendar(
        weekdays=weekdays,
        holidays=dict(NATIONS["ENG"]) | near,
        closures=dict.fromkeys(closed, "") | {first: ""},
        extra_open=extra | {first, first + timedelta(days=3)},
    )
    last = first + timedelta(days=length)
    each = (first + timedelta(days=n) for n in range(length + 1))

    assert calendar.open_days(first, last) == tuple(day for day in each if calendar.is_open(day))


def test_a_target_on_an_open_day_is_offered_as_it_is() -> None:
    offer = ENGLAND.offer(date(2026, 9, 29), date(2026, 10, 13), date(2026, 10, 27))

    assert offer.on == date(2026, 10, 13)
    assert offer.because == "Tuesday 13 October 2026 is the target and an open day."
    assert (offer.before, offer.after) == (None, None)


def test_a_target_on_boxing_day_moves_to_the_nearest_open_day_and_says_which_way() -> None:
    offer = ENGLAND.offer(date(2026, 12, 14), date(2026, 12, 26), date(2027, 1, 8))

    assert offer.on == date(2026, 12, 24)
    assert offer.because == (
        "Thursday 24 December 2026 is the nearest open day, 2 days before the target of "
        "Saturday 26 December 2026 (Boxing Day)."
    )


def test_a_saturday_target_moves_to_the_friday() -> None:
    offer = ENGLAND.offer(date(2026, 10, 1), date(2026, 10, 10), date(2026, 10, 30))

    assert offer.on == date(2026, 10, 9)
    assert "1 day before" in offer.because
    assert "not open on a Saturday" in offer.because


def test_the_window_is_never_left_for_a_nearer_day() -> None:
    offer = ENGLAND.offer(date(2026, 10, 10), date(2026, 10, 10), date(2026, 10, 12))

    assert offer.on == date(2026, 10, 12)
    assert "2 days after" in offer.because


def test_a_window_without_an_open_day_names_the_nearest_on_both_sides() -> None:
    offer = ENGLAND.offer(date(2026, 12, 25), date(2026, 12, 26), date(2026, 12, 28))

    assert offer.on is None
    assert (offer.before, offer.after) == (date(2026, 12, 24), date(2026, 12, 29))
    assert offer.because == (
        "No open day lies between 25 December 2026 and 28 December 2026. "
        "Nearest open: Thursday 24 December 2026 or Tuesday 29 December 2026."
    )


def test_of_two_equally_near_days_the_earlier_is_taken() -> None:
    calendar = Calendar(weekdays=frozenset({0, 2}))

    assert calendar.offer(date(2026, 10, 5), date(2026, 10, 6), date(2026, 10, 9)).on == date(
        2026, 10, 5
    )


def test_own_closures_win_over_extra_openings_and_those_over_holidays() -> None:
    day = date(2026, 12, 28)
    opened = Calendar(holidays={day: "Boxing Day"}, extra_open=frozenset({day}))
    shut = Calendar(extra_open=frozenset({day}), closures={day: "training"})

    assert opened.is_open(day)
    assert shut.closed_because(day) == "training"


def test_days_that_have_gone_by_are_not_offered() -> None:
    today = date(2026, 10, 20)

    offer = ENGLAND.offer(
        date(2026, 9, 29), date(2026, 10, 13), date(2026, 10, 27), not_before=today
    )

    assert offer.on == today
    assert "that day has gone by" in offer.because


def test_a_window_that_has_ended_offers_the_next_open_day_to_a_person() -> None:
    offer = ENGLAND.offer(
        date(2026, 9, 1), date(2026, 9, 8), date(2026, 9, 15), not_before=date(2026, 10, 3)
    )

    assert (offer.on, offer.before, offer.after) == (None, None, date(2026, 10, 5))
    assert offer.because.startswith("The window ended on 15 September 2026.")


def test_a_practice_that_never_opens_is_said_and_not_searched_for_ever() -> None:
    closed = Calendar(weekdays=frozenset())
    day = date(2026, 9, 1)

    assert closed.offer(day, day, day).because.endswith("The practice never opens.")
    assert closed.working_days_after(day, 2) == date(2026, 9, 3)


@given(DAYS, st.integers(0, 30), st.integers(0, 30))
def test_the_offer_is_the_nearest_open_day_inside_the_window(
    earliest: date, aim: int, width: int
) -> None:
    latest = earliest + timedelta(days=width)
    target = earliest + timedelta(days=min(aim, width))
    inside = [earliest + timedelta(days=n) for n in range(width + 1)]
    open_days = [d for d in inside if NATIONS["ENG"].is_working_day(d)]

    offer = ENGLAND.offer(earliest, target, latest)

    assert offer.on == min(open_days, key=lambda d: (abs(d - target), d), default=None)


def test_days_are_said_in_the_same_words_on_every_machine() -> None:
    assert say_day(date(2028, 2, 29), weekday=True) == "Tuesday 29 February 2028"
