"""Days and times as people type them, against the standard library's own formats."""

from __future__ import annotations

from contextlib import suppress
from datetime import date, datetime, time, timedelta

import pytest
from dateutil import parser
from dateutil.relativedelta import MO, relativedelta
from hypothesis import given
from hypothesis import strategies as st

from recall.errors import InputError
from recall.exchange.typed_days import read_call_at, read_day, read_time, read_when

TODAY = date(2026, 9, 7)
DAYS = st.dates(date(1900, 1, 1), date(2100, 12, 31))
FORMATS = ("%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%Y-%m-%d", "%d %b %Y", "%d %B %Y", "%d %m %Y")


@given(DAYS, st.sampled_from(FORMATS))
def test_a_whole_day_reads_as_strftime_wrote_it(day: date, form: str) -> None:
    assert read_day(day.strftime(form), TODAY) == day


@given(st.dates(TODAY, TODAY + timedelta(days=183)))
def test_a_day_without_a_year_is_the_next_one(day: date) -> None:
    assert read_day(f"{day.day}/{day.month}", TODAY) == day


@given(st.dates(TODAY + timedelta(days=184), TODAY + timedelta(days=364)))
def test_one_more_than_half_a_year_off_is_asked_for_with_its_year(day: date) -> None:
    """A day that has gone by is never read as one of next year without a word."""
    with pytest.raises(InputError, match=f"would be {day.day} {day:%B} {day.year}") as asked:
        read_day(f"{day.day}/{day.month}", TODAY)
    assert read_day(asked.value.hint.split(": ")[1].rstrip("."), TODAY) == day


def test_the_day_before_yesterday_is_no_appointment() -> None:
    with pytest.raises(InputError, match="15 September 2027, 41 weeks from now"):
        read_when("15/9 10", date(2026, 11, 29))
    with pytest.raises(InputError, match="41 weeks from now"):
        read_call_at("15/9", date(2026, 11, 29))
    assert read_when("15/9/27 10", date(2026, 11, 29)) == datetime(2027, 9, 15, 10)


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
        ("29/2/28", date(2028, 2, 29)),
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


@pytest.mark.parametrize("typed", ["", "25:00", "9:75", "midnight", "12345"])
def test_what_is_no_time_is_said_so(typed: str) -> None:
    with pytest.raises(InputError, match="is no time"):
        read_time(typed)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("15/9 10", datetime(2026, 9, 15, 10)),
        ("15.9 10.30", datetime(2026, 9, 15, 10, 30)),
        ("15 sep 2026 9:05", datetime(2026, 9, 15, 9, 5)),
        ("tue 2.15 pm", datetime(2026, 9, 8, 14, 15)),
        ("+14 2pm", datetime(2026, 9, 15, 14)),
        ("2w 10", datetime(2026, 9, 15, 10)),
        ("tomorrow 14h30", datetime(2026, 9, 2, 14, 30)),
        ("10.30", datetime(2026, 9, 9, 10, 30)),
        ("9", datetime(2026, 9, 9, 9)),
    ],
)
def test_a_day_and_a_time_are_typed_in_one(typed: str, meant: datetime) -> None:
    assert read_when(typed, date(2026, 9, 1), date(2026, 9, 9)) == meant


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("15/9", "The time is missing"),
        ("15 sep 2026", "The time is missing"),
        ("15/9/2026", "The time is missing"),
        ("10.30", "The day is missing"),
        ("15/9 26", "is no time"),
        ("31/2 10", "is no day"),
        ("soon", "is no day"),
        ("", "is no day"),
    ],
)
def test_half_a_day_and_time_is_said_to_be_half(typed: str, said: str) -> None:
    """A year is never taken for a time of day, and nothing is guessed."""
    with pytest.raises(InputError, match=said):
        read_when(typed, date(2026, 9, 1))


AS_WRITTEN: dict[str, datetime] = {
    "thursday at three": datetime(2026, 12, 3, 15),
    "Thursday, at 3 o'clock": datetime(2026, 12, 3, 15),
    "thurs 3": datetime(2026, 12, 3, 15),
    "thursday at three in the afternoon": datetime(2026, 12, 3, 15),
    "thursday afternoon at 3": datetime(2026, 12, 3, 15),
    "thu 3 december at 10": datetime(2026, 12, 3, 10),
    "Thursday 3rd December at ten": datetime(2026, 12, 3, 10),
    "December 3rd at ten": datetime(2026, 12, 3, 10),
    "the 3rd at ten": datetime(2026, 12, 3, 10),
    "3rd of December, half past ten": datetime(2026, 12, 3, 10, 30),
    "tomorrow 9": datetime(2026, 12, 1, 9),
    "tomorrow at nine": datetime(2026, 12, 1, 9),
    "tomorrow 9 am": datetime(2026, 12, 1, 9),
    "tomorrow at noon": datetime(2026, 12, 1, 12),
    "day after tomorrow at 4 pm": datetime(2026, 12, 2, 16),
    "tue 14:30": datetime(2026, 12, 1, 14, 30),
    "this tue 14:30": datetime(2026, 12, 1, 14, 30),
    "next tue 14:30": datetime(2026, 12, 8, 14, 30),
    "tuesday week at 14:30": datetime(2026, 12, 8, 14, 30),
    "a week on tuesday at 14:30": datetime(2026, 12, 8, 14, 30),
    "next monday at ten thirty": datetime(2026, 12, 7, 10, 30),
    "mon 10 30": datetime(2026, 12, 7, 10, 30),
    "in two weeks at quarter to eleven": datetime(2026, 12, 14, 10, 45),
    "in a fortnight at 11": datetime(2026, 12, 14, 11),
    "15/12 10": datetime(2026, 12, 15, 10),
    "half past ten": datetime(2026, 11, 30, 10, 30),
    "half ten": datetime(2026, 11, 30, 10, 30),
    "quarter past two": datetime(2026, 11, 30, 14, 15),
    "twenty to four": datetime(2026, 11, 30, 15, 40),
    "quarter to one": datetime(2026, 11, 30, 12, 45),
    "five past nine": datetime(2026, 11, 30, 9, 5),
    "three": datetime(2026, 11, 30, 15),
    "six in the evening": datetime(2026, 11, 30, 18),
}
"""Of Monday 30 November 2026, as people write them. Readings common practice, no source: at a
bare hour from one to six it is the afternoon; “half ten” is 10:30, as in British use; “next” is
of next week. Each is said back as it was understood before it is stored."""


@pytest.mark.parametrize("typed", AS_WRITTEN)
def test_days_and_hours_are_read_as_people_write_them(typed: str) -> None:
    today = date(2026, 11, 30)
    assert read_when(typed, today, today) == AS_WRITTEN[typed]
    day, at = read_call_at(typed, today)
    assert at is not None and datetime.combine(day, at) == AS_WRITTEN[typed]


@pytest.mark.parametrize(
    ("typed", "today", "meant"),
    [
        ("next tue", date(2026, 11, 29), date(2026, 12, 1)),
        ("next tue", date(2026, 12, 1), date(2026, 12, 8)),
        ("next tue", date(2026, 12, 4), date(2026, 12, 8)),
        ("the 31st", date(2026, 11, 30), date(2026, 12, 31)),
        ("30th", date(2026, 11, 30), date(2026, 11, 30)),
        ("three days", date(2026, 11, 30), date(2026, 12, 3)),
        ("3 9 27", date(2026, 11, 30), date(2027, 9, 3)),
        ("1 12 30", date(2026, 11, 30), date(2030, 12, 1)),
    ],
)
def test_days_alone_are_read_as_people_write_them(typed: str, today: date, meant: date) -> None:
    assert read_day(typed, today) == meant


def test_days_gone_by_are_read_as_people_write_them() -> None:
    today = date(2026, 11, 30)
    assert read_day("three days ago", today, past=True) == date(2026, 11, 27)
    assert read_day("last friday", today, past=True) == date(2026, 11, 27)
    assert read_day("the 31st", today, past=True) == date(2026, 10, 31)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("fri 3 december", "3 December 2026 is a Thursday"),
        ("monkey", "is no day"),
        ("last friday", "is no day"),
        ("thursday morning", "is no day"),
        ("Thursday at three", "“Thursday at three” is no day"),
        ("32nd", "is no day"),
        ("the", "is no day"),
    ],
)
def test_what_contradicts_itself_or_says_no_day_is_refused(typed: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_day(typed, date(2026, 11, 30))


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    for read in (read_day, read_when, read_call_at):
        with suppress(InputError):
            read(text, TODAY)


@given(st.dates(TODAY, TODAY + timedelta(days=180)), st.times())
def test_short_forms_stay_as_they_are(day: date, at: time) -> None:
    """What was read before is read the same in its written form: dateutil reads it alike."""
    at = at.replace(second=0, microsecond=0)
    typed = f"{day:%A} {day.day} {day:%B} {day.year} at {at:%H:%M}"
    assert read_when(typed, TODAY) == parser.parse(typed, dayfirst=True)
