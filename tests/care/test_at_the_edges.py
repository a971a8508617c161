"""What stands at an edge: a year's days, wax that nobody tried."""

from __future__ import annotations

from datetime import date

import pytest

from recall.care.ear import Ear
from recall.care.episodes import episodes, with_day
from recall.care.one_look import wax_was_left_alone


def test_of_a_years_days_those_before_it_are_left_out() -> None:
    """A year back from 1 June 2026 is 1 June 2025, and that very day is too old."""
    kept = (date(2025, 6, 2), date(2026, 6, 1))

    assert with_day((date(2024, 1, 1), date(2025, 6, 1), kept[0]), kept[1]) == kept


def test_no_day_is_no_episode() -> None:
    assert episodes((), date(2026, 6, 1), 12) == 0


@pytest.mark.parametrize(("seen", "alone"), [("none", True), ("partial", False), ("full", False)])
def test_wax_with_nothing_said_of_clearing_was_left_alone_where_it_hides_the_drum(
    seen: str, alone: bool
) -> None:
    """Common practice, no source."""
    ear = Ear(wax_found="occluding", drum_seen=seen)

    assert wax_was_left_alone(ear, before=False) is alone
