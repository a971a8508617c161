"""Days: months clip to the month's end, vague dates mean their earliest day."""

from __future__ import annotations

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from recall.care.dates import Before, add, age_on, birthday, resolve

DAYS = st.dates(date(1900, 1, 1), date(2100, 12, 31))


@pytest.mark.parametrize(
    ("anchor", "months", "expected"),
    [
        # Worked with python-dateutil, whose relativedelta documents the clipping.
        (date(2023, 11, 30), 3, date(2024, 2, 29)),
        (date(2025, 11, 30), 3, date(2026, 2, 28)),
        (date(2025, 8, 31), 6, date(2026, 2, 28)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2024, 2, 29), 48, date(2028, 2, 29)),
    ],
)
def test_months_clip_back_to_the_month_s_last_day(anchor, months, expected):
    assert add(anchor, months=months) == expected


def test_months_are_counted_from_the_anchor_and_not_chained():
    # 31 January: one month twice is 28 March, two months at once are 31 March.
    start = date(2026, 1, 31)
    assert add(add(start, months=1), months=1) == date(2026, 3, 28)
    assert add(start, months=2) == date(2026, 3, 31)


def test_months_come_before_days():
    # relativedelta's documented order: years, months, then days.
    assert add(date(2026, 1, 31), months=1, days=1) == date(2026, 3, 1)


@given(DAYS, st.integers(0, 60), st.integers(0, 60))
def test_adding_agrees_with_a_general_library(anchor, months, days):
    assert add(anchor, months=months, days=days) == anchor + relativedelta(months=months, days=days)


@pytest.mark.parametrize(
    ("on", "age"),
    [
        (date(2026, 2, 28), 17),
        (date(2026, 3, 1), 18),
        (date(2028, 2, 28), 19),
        (date(2028, 2, 29), 20),
    ],
)
def test_somebody_born_on_29_february_has_their_birthday_on_1_march(on, age):
    # A stated rule, no source: some countries take 28 February.
    assert age_on(date(2008, 2, 29), on) == age


@given(DAYS.filter(lambda day: day.year < 2000), st.integers(0, 90))
def test_a_birthday_is_the_first_day_of_an_age(born, age):
    on = birthday(born, age)
    assert age_on(born, on) == age
    if age:
        assert age_on(born, add(on, days=-1)) == age - 1


@pytest.mark.parametrize(
    ("when", "expected", "vague"),
    [
        ("2026-08-14", date(2026, 8, 14), False),
        ("2026-08", date(2026, 8, 1), True),
        (Before(weeks=6), date(2026, 7, 21), True),
        (Before(days=3), date(2026, 8, 29), True),
        (Before(months=6), date(2026, 3, 1), True),
        (Before(years=1, months=1, days=1), date(2025, 7, 31), True),
    ],
)
def test_a_vague_date_means_its_earliest_day(when, expected, vague):
    day = resolve(when, date(2026, 9, 1))
    assert (day.on, day.vague) == (expected, vague)


@pytest.mark.parametrize("text", ["2026-13", "2026-02-29", "2026-00-10", "2026-08\n", "٢٠٢٦-٠٨-٠١"])
def test_what_is_no_day_of_the_calendar_is_refused(text):
    with pytest.raises(ValueError):
        resolve(text, date(2026, 9, 1))


def test_an_empty_distance_is_refused():
    with pytest.raises(ValueError, match="at least one"):
        Before()
