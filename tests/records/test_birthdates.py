"""A birth date as people say it: every day that it can mean, the likelier first."""

from __future__ import annotations

from datetime import date

import pytest

from recall.records.people.birthdates import birth_dates

APRIL, MARCH = date(1950, 4, 3), date(1950, 3, 4)


@pytest.mark.parametrize(
    ("said", "days"),
    [
        ("3/4/1950", (APRIL, MARCH)),
        ("03.04.1950", (APRIL, MARCH)),
        ("1950-04-03", (APRIL,)),
        ("3-4-50", (APRIL, date(2050, 4, 3), MARCH, date(2050, 3, 4))),
        ("13/2/1950", (date(1950, 2, 13),)),
        ("2/13/1950", (date(1950, 2, 13),)),
        ("5/5/1950", (date(1950, 5, 5),)),
        ("31/12/1999", (date(1999, 12, 31),)),
        ("03041950", (APRIL,)),
        ("19500403", (APRIL,)),  # there is no month 50
        ("20080229", (date(229, 8, 20), date(2008, 2, 29))),  # day first is tried first
        ("3 Apr 1950", (APRIL,)),
        ("3rd April 1950", (APRIL,)),
        ("3apr50", ()),
        ("3 apr 50", (APRIL, date(2050, 4, 3))),
        ("April 3rd, 1950", (APRIL,)),
        ("apr 3 50", (APRIL, date(2050, 4, 3))),
        ("1 Jan 1950", (date(1950, 1, 1),)),
        ("31 Dec 1950", (date(1950, 12, 31),)),
        ("Dec 31, 1950", (date(1950, 12, 31),)),
        ("3/4/950", ()),
        ("950-4-3", ()),
        ("3 xyz 1950", ()),
        ("31/04/1931", ()),
        ("1632 960123", ()),
        ("", ()),
    ],
)
def test_the_days_that_a_date_can_mean(said: str, days: tuple[date, ...]) -> None:
    assert birth_dates(said)[0] == days


def test_what_is_left_of_the_text() -> None:
    assert birth_dates("ann 3/4/1950 marsh") == ((APRIL, MARCH), "ann  marsh")
    assert birth_dates("ann marsh") == ((), "ann marsh")


def test_a_day_that_does_not_exist_is_passed_over_for_one_that_does() -> None:
    assert birth_dates("31/04/1931 13/2/1950") == ((date(1950, 2, 13),), "31/04/1931 ")


def test_a_date_behind_the_end_of_a_number_is_read() -> None:
    """The last digits of a number and the day look like the beginning of a date, and are none."""
    found = birth_dates("ida orme 07700 900 123 3/3/2019")
    assert found == ((date(2019, 3, 3),), "ida orme 07700 900 123 ")
    assert birth_dates("123 99/99") == ((), "123 99/99")
