"""Days and times as people type them, against the standard library's own formats."""

from __future__ import annotations

from datetime import date, time, timedelta

import pytest
from dateutil.relativedelta import MO, relativedelta
from hypothesis import given
from hypothesis import strategies as st

from recall.errors import InputError
from tui.words.days import read_day, read_time

TODAY = date(2026, 9, 7)
DAYS = st.dates(date(1900, 1, 1), date(2100, 12, 31))
FORMATS = ("%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%Y-%m-%d", "%d %b %Y", "%d %B %Y", "%d %m %Y")


@given(DAYS, st.sampled_from(FORMATS))
def test_a_whole_day_reads_as_strftime_wrote_it(day: date, form: str) -> None:
    assert read_day(day.strftime(form), TODAY) == day


@given(st.dates(TODAY, TODAY + timedelta(days=365)))
def test_a_day_without_a_year_is_the_next_one(day: date) -> None:
    found = read_day(f"{day.day}/{day.month}", TODAY)

    assert (found.day, found.month) == (day.day, day.month)
    assert found >= TODAY
    assert found <= TODAY + relativedelta(years=8)


@given(st.dates(TODAY - timedelta(days=364), TODAY))
def test_a_past_day_without_a_year_is_the_last_one(day: date) -> None:
    assert read_day(f"{day.day} {day:%b}", TODAY, past=True) == day


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("+3", date(2026, 9, 10)),
        ("2w", date(2026, 9, 21)),
        ("10 days", date(2026, 9, 17)),
        ("tomorrow", date(2026, 9, 8)),
        ("mon", TODAY + relativedelta(days=1, weekday=MO)),
        ("29/2", date(2028, 2, 29)),
        ("3.9.27", date(2027, 9, 3)),
    ],
)
def test_short_forms(typed: str, expected: date) -> None:
    assert read_day(typed, TODAY) == expected


@pytest.mark.parametrize("typed", ["", "32/1", "30/2/2026", "soon", "13/13", "1/2/3/4", "[/b]"])
def test_what_is_no_day_is_said_so(typed: str) -> None:
    with pytest.raises(InputError, match="is no day"):
        read_day(typed, TODAY)


@given(st.times())
def test_times_read_as_they_are_written(at: time) -> None:
    whole = at.replace(second=0, microsecond=0)

    assert read_time(whole.strftime("%H:%M")) == whole
    assert read_time(whole.strftime("%H.%M")) == whole
    assert read_time(whole.strftime("%I:%M%p")) == whole


@pytest.mark.parametrize("typed", ["", "25:00", "9:75", "noon", "12345"])
def test_what_is_no_time_is_said_so(typed: str) -> None:
    with pytest.raises(InputError, match="is no time"):
        read_time(typed)
