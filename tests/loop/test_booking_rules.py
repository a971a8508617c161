"""Bookings: which are allowed, and when misses make a pattern.

"Was not brought" for children, patterns rather than single misses, and cancelling again and
again as a warning sign: RCGP safeguarding toolkit; Sussex procedures 5.3. The number two is
common practice, no source.
"""

from __future__ import annotations

from datetime import date

import pytest

from recall.care.dates import is_child
from recall.errors import Refused
from recall.loop.booking_rules import (
    check_booking,
    missed_word,
    misses_in_a_row,
    open_booking,
)
from recall.loop.facts import Booked, BookingEnded, Ending, Event
from tests.loop.tell import facts

DAY = date(2026, 9, 10)


def ended(*hows: Ending) -> tuple[Event, ...]:
    return tuple(BookingEnded(on=DAY, booking=n, how=how) for n, how in enumerate(hows))


def test_a_day_after_the_latest_needs_a_reason() -> None:
    late = date(2026, 11, 2)

    with pytest.raises(Refused, match="after the latest day, 27 October 2026"):
        check_booking(facts(), late, made_on=DAY)
    assert "overdue" in check_booking(facts(), late, made_on=DAY, why_late="abroad until then")


def test_a_reason_of_blanks_is_none() -> None:
    with pytest.raises(Refused):
        check_booking(facts(), date(2026, 10, 28), made_on=DAY, why_late="  ")


def test_the_latest_day_itself_needs_no_reason_and_an_early_day_is_pointed_out() -> None:
    assert check_booking(facts(), date(2026, 10, 27), made_on=DAY) == ""
    assert "earliest" in check_booking(facts(), date(2026, 9, 28), made_on=DAY)


def test_a_day_that_has_gone_by_cannot_be_booked() -> None:
    with pytest.raises(Refused, match="gone by"):
        check_booking(facts(), date(2026, 9, 9), made_on=DAY)


@pytest.mark.parametrize(
    ("hows", "child", "adult"),
    [
        ((), 0, 0),
        (("was_not_brought",), 1, 1),
        (("was_not_brought", "was_not_brought"), 2, 2),
        (("cancelled_by_person", "was_not_brought"), 2, 1),
        (("cancelled_by_person", "moved_by_person"), 2, 0),
        (("was_not_brought", "cancelled_by_practice", "was_not_brought"), 2, 2),
        (("was_not_brought", "moved_by_practice"), 1, 1),
        (("was_not_brought", "attended", "was_not_brought"), 1, 1),
        (("did_not_attend", "cancelled_by_person", "did_not_attend"), 3, 2),
    ],
)
def test_misses_in_a_row(hows: tuple[Ending, ...], child: int, adult: int) -> None:
    assert misses_in_a_row(ended(*hows), by_others=True) == child
    assert misses_in_a_row(ended(*hows), by_others=False) == adult


@pytest.mark.parametrize(
    ("born", "day", "word"),
    [
        (date(2010, 9, 10), date(2026, 9, 9), "was_not_brought"),
        (date(2010, 9, 10), date(2026, 9, 10), "did_not_attend"),
        (date(2012, 2, 29), date(2028, 2, 28), "was_not_brought"),
        (date(2012, 2, 29), date(2028, 2, 29), "did_not_attend"),
    ],
)
def test_from_the_birthday_of_16_a_miss_is_the_persons_own(
    born: date, day: date, word: str
) -> None:
    assert missed_word(facts(born=born), day) == word


def test_born_on_29_february_is_16_in_a_leap_year_and_so_on_the_day_itself() -> None:
    """Sixteen years after a leap day is always a leap year but for 1900 and its like."""
    assert is_child(date(2084, 2, 29), date(2100, 2, 28))
    assert not is_child(date(2084, 2, 29), date(2100, 3, 1))


def test_an_adult_who_depends_on_others_was_not_brought() -> None:
    assert missed_word(facts(born=date(1940, 1, 1), dependent=True), DAY) == "was_not_brought"


def test_a_moved_booking_stands_on_its_new_day() -> None:
    events = (
        Booked(on=DAY, booking=1, day=date(2026, 10, 1)),
        BookingEnded(on=DAY, booking=1, how="moved_by_person"),
        Booked(on=DAY, booking=1, day=date(2026, 10, 8)),
    )

    standing = open_booking(events)

    assert standing is not None
    assert standing.day == date(2026, 10, 8)
    assert open_booking(events[:2]) is None
