"""The windows of a visit that was closed with a category alone, worked out by hand.

Visit on 1 September 2026. Published: retraction yearly (Cutajar et al. 2018); healing check at
6 weeks (Devon formulary); mastoid cavity 2 to 4 times a year (patient leaflets); canal
skin after 14 days of drops (BMJ 2021;372:n714, as quoted). The rest is common practice, no source.
"""

from __future__ import annotations

from datetime import date

import pytest

from recall.care.case import Case, Category
from recall.protocol.loading import load
from recall.schedule.fold import fold
from recall.schedule.plan import Decision

ADULT, CHILD = date(1990, 5, 10), date(2018, 3, 2)
SAME: dict[Category, tuple[str, str, str]] = {
    "fluid_recheck": ("2026-09-29", "2026-10-13", "2026-10-27"),  # 4, 6, 8 weeks
    "wax_routine": ("2027-02-01", "2027-03-01", "2027-04-01"),  # 5, 6, 7 months
    "wax_retry": ("2026-09-04", "2026-09-11", "2026-09-15"),  # 3, 10, 14 days
    "healing_check": ("2026-10-13", "2026-10-13", "2026-10-27"),  # 6, 6, 8 weeks
    "skin_check": ("2026-09-11", "2026-09-15", "2026-09-22"),  # 10, 14, 21 days
    "grommet_check": ("2027-02-01", "2027-03-01", "2027-04-01"),  # 5, 6, 7 months
    "cavity_care": ("2026-12-01", "2027-03-01", "2027-04-01"),  # 3, 6, 7 months
    "hearing_check": ("2026-09-15", "2026-09-29", "2026-10-13"),  # 2, 4, 6 weeks
}
BY_AGE: dict[tuple[Category, date], tuple[str, str, str]] = {
    ("retraction_watch", ADULT): ("2027-07-01", "2027-09-01", "2027-11-01"),  # 10, 12, 14 months
    ("retraction_watch", CHILD): ("2027-02-01", "2027-03-01", "2027-04-01"),  # 5, 6, 7 months
    ("view_retry", ADULT): ("2026-09-04", "2026-09-15", "2026-09-22"),  # 3, 14, 21 days
    ("view_retry", CHILD): ("2026-09-04", "2026-09-08", "2026-09-15"),  # 3, 7, 14 days
}
WINDOWS = {(c, born): w for c, w in SAME.items() for born in (ADULT, CHILD)} | BY_AGE


@pytest.mark.parametrize(("category", "born"), WINDOWS)
def test_category_alone_asks_in_its_default_window(category: Category, born: date) -> None:
    decision = Decision(on=date(2026, 9, 1), ear="left", action="ask", category=category)

    (due,) = fold(Case(born=born), load(), date(2026, 9, 1), decisions=[decision]).open

    days = (due.earliest.isoformat(), due.target.isoformat(), due.latest.isoformat())
    assert (due.ear, due.category) == ("left", category)
    assert days == WINDOWS[category, born]


@pytest.mark.parametrize("category", ["refer", "come_back_if"])
def test_referral_without_a_service_and_advice_have_no_window(category: Category) -> None:
    decision = Decision(on=date(2026, 9, 1), ear="left", action="ask", category=category)

    assert fold(Case(born=ADULT), load(), date(2026, 9, 1), decisions=[decision]).open == ()
