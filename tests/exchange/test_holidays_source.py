"""The practice's calendar from its configuration and the public holidays of its country."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from recall import config
from recall.errors import ConfigError
from recall.exchange.holidays_source import closed_days, practice_calendar, public_holidays


def next_open(subdivision, day):
    calendar = practice_calendar(config.Calendar(subdivision=subdivision), 2026, 2029)
    while not calendar.is_open(day):
        day += timedelta(days=1)
    return day


# Banking and Financial Dealings Act 1971 with the yearly proclamations; St Andrew's Day Bank
# Holiday (Scotland) Act 2007. Values worked out from the acts and checked with a general library.
@pytest.mark.parametrize(
    ("subdivision", "day", "expected"),
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
def test_the_next_working_day(subdivision, day, expected):
    assert next_open(subdivision, day) == expected


def test_holidays_have_names():
    assert public_holidays("GB", "ENG", 2026, 2026)[date(2026, 4, 3)] == "Good Friday"


def test_only_the_years_asked_for_are_there():
    found = public_holidays("GB", "WLS", 2026, 2027)

    assert {day.year for day in found} == {2026, 2027}


def test_the_practices_own_closures_and_open_days():
    settings = config.Calendar(
        open_days=("mon", "sat"),
        closures=(
            config.Closure(from_=date(2026, 12, 5), to=date(2026, 12, 12), why="Works"),
            config.Closure(from_=date(2026, 12, 19)),
        ),
        extra_open=(date(2026, 12, 22),),
    )
    calendar = practice_calendar(settings, 2026, 2026)

    assert calendar.closed_because(date(2026, 12, 7)) == "Works"
    assert not calendar.is_open(date(2026, 12, 12))
    assert calendar.is_open(date(2026, 12, 14))
    assert not calendar.is_open(date(2026, 12, 19))
    assert calendar.is_open(date(2026, 12, 22))
    assert not calendar.is_open(date(2026, 12, 15))


@pytest.mark.parametrize(
    ("country", "subdivision", "said"),
    [("XX", "", "calendar.country"), ("GB", "YORK", "calendar.subdivision.*SCT")],
)
def test_unknown_places_are_refused_with_what_may_be(country, subdivision, said):
    with pytest.raises(ConfigError, match=said):
        public_holidays(country, subdivision, 2026, 2026)


def test_a_country_without_a_subdivision_works():
    assert public_holidays("IE", "", 2026, 2026)[date(2026, 3, 17)]


def test_holidays_are_looked_up_only_when_a_day_is_asked_about() -> None:
    calendar = practice_calendar(config.Calendar(), 2026, 2026)

    assert dict.__len__(calendar.holidays) == 0
    assert not calendar.is_open(date(2026, 12, 25))
    assert dict.__len__(calendar.holidays) > 0


def test_a_closure_is_every_day_from_its_first_to_its_last() -> None:
    over_new_year = config.Closure(from_=date(2026, 12, 30), to=date(2027, 1, 2), why="refitting")
    one_day = config.Closure(from_=date(2028, 2, 29))

    assert closed_days((over_new_year, one_day)) == {
        **{date(2026, 12, d): "refitting" for d in (30, 31)},
        **{date(2027, 1, d): "refitting" for d in (1, 2)},
        date(2028, 2, 29): "",
    }


def test_holidays_and_closures_are_looked_up_however_they_are_asked() -> None:
    settings = config.Calendar(closures=(config.Closure(from_=date(2026, 9, 1)),))

    assert date(2026, 12, 25) in set(practice_calendar(settings, 2026, 2026).holidays)
    assert date(2026, 9, 1) in set(practice_calendar(settings, 2026, 2026).closures)
    assert not practice_calendar(settings, 2026, 2026).is_open(date(2026, 9, 1))
