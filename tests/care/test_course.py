"""What an ear's history counts: tests of hearing, and blocked wax within a year."""

from __future__ import annotations

from datetime import date

import pytest

from recall.care.course import Course
from recall.care.ear import Ear
from recall.care.episodes import within_a_year

ON = date(2026, 9, 1)


@pytest.mark.parametrize(
    ("ear", "tested"),
    [
        (Ear(hearing_screen="passed"), True),
        (Ear(hearing_screen="not_passed"), True),
        (Ear(hearing_screen="could_not_test"), False),
        (Ear(hearing_dB={"500": 10, "1000": 10, "2000": 10, "4000": 10}), True),
        (Ear(hearing_dB={"500": 10}), False),
    ],
)
def test_a_screen_with_a_result_counts_as_a_hearing_test(ear: Ear, tested: bool) -> None:
    course = Course()

    course.see(ear, ON, None)

    assert course.hearing_on == (ON if tested else None)


@pytest.mark.parametrize(
    ("asked_on", "visits"),
    [(date(2026, 9, 1), 1), (date(2027, 8, 31), 1), (date(2027, 9, 1), 0)],
)
def test_blocked_wax_counts_for_less_than_twelve_months(asked_on: date, visits: int) -> None:
    course = Course()

    course.see(Ear(wax_found="occluding"), ON, None)
    course.see(Ear(drum_seen="full"), asked_on, None)

    assert within_a_year(course.wax_blocked_on, asked_on) == visits


@pytest.mark.parametrize(("drum_seen", "over"), [("full", True), ("part", False), (None, False)])
def test_a_clock_ends_only_where_the_whole_drum_was_seen(drum_seen: str, over: bool) -> None:
    course = Course()

    course.see(Ear(effusion="present", perforation="central", drum_seen="full"), ON, None)
    clear = Ear(effusion="absent", perforation="none", drum_seen=drum_seen)  # type: ignore[arg-type]
    course.see(clear, date(2026, 10, 1), None)

    assert (course.fluid_since is None) is over
    assert (course.perforation_since is None) is over


@pytest.mark.parametrize("between", ["suspected", "present"])
def test_fluid_found_six_weeks_on_was_there_from_the_first_look(between: str) -> None:
    """Common practice, no source. Surer fluid in between makes the episode no shorter."""
    course = Course()

    for day, found in (
        (ON, "suspected"),
        (date(2026, 9, 22), between),
        (date(2026, 10, 13), "suspected"),
    ):
        course.see(Ear(effusion=found, drum_seen="full"), day, None)  # type: ignore[arg-type]

    assert course.fluid_since == ON


@pytest.mark.parametrize(
    ("again", "since"),
    [(date(2026, 10, 12), None), (date(2026, 10, 13), ON)],
)
def test_fluid_that_is_suspected_twice_counts_from_six_weeks_on(
    again: date, since: date | None
) -> None:
    course = Course()

    course.see(Ear(effusion="suspected", drum_seen="full"), ON, None)
    course.see(Ear(effusion="suspected", drum_seen="full"), again, None)

    assert course.fluid_since == since
