"""The limits of what ends early, ends with fluid, or is one thing under several names.

Common practice, no source, unless one is named.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from recall.care.course import Course
from recall.care.ear import Ear
from recall.care.grades import Grades
from recall.schedule.cared_for import names_of
from recall.schedule.ending import as_it_should_be, early_enough, fluid_is_gone
from recall.schedule.open_ledger import OpenLedger
from tests.records.build import DAY, due

DRY = Ear(drum_seen="full", effusion="absent")


@pytest.mark.parametrize(("drop", "as_before"), [(9.9, True), (10, False), (None, False)])
def test_hearing_that_is_worse_by_ten_decibels_is_worse(
    drop: float | None, as_before: bool
) -> None:
    """As the protocol's rules for a drop have it: 10 dB between two means."""
    found = as_it_should_be(due(track="hearing"), Ear(), Course(hearing_drop=drop))

    assert found is as_before


def test_hearing_as_before_does_not_outweigh_a_screen_that_was_not_passed() -> None:
    ear = Ear(hearing_screen="not_passed")

    assert not as_it_should_be(due(track="hearing"), ear, Course(hearing_drop=0))


@pytest.mark.parametrize(
    ("tensa", "attic", "ends"), [(2, None, True), (3, None, False), (2, 3, False), (1, 2, True)]
)
def test_a_grade_above_two_keeps_its_own_day_though_it_is_no_worse(
    tensa: int, attic: int | None, ends: bool
) -> None:
    ear = Ear(tensa_grade=tensa, attic_grade=attic)
    course = Course(
        tensa=Grades(last=tensa, step=0),
        attic=Grades(last=attic, step=None if attic is None else 0),
    )

    assert as_it_should_be(due(track="retraction"), ear, course) is ends


def test_the_visit_that_asks_for_a_look_is_no_early_look() -> None:
    asks = due(earliest=DAY, target=DAY + timedelta(weeks=6))

    assert not early_enough(asks, DAY)
    assert early_enough(asks, DAY + timedelta(days=1))


def test_a_look_may_be_early_by_a_quarter_of_its_days() -> None:
    """42 days from the visit to the target: ten days early are in, eleven are not."""
    asks = due()

    assert early_enough(asks, asks.earliest - timedelta(days=10))
    assert not early_enough(asks, asks.earliest - timedelta(days=11))


@pytest.mark.parametrize(
    ("course", "gone"),
    [
        (Course(), True),
        (Course(screens_failed=1), False),
        (Course(loss_since=DAY), False),
    ],
)
def test_fluid_is_not_gone_while_a_test_of_hearing_was_not_passed(
    course: Course, gone: bool
) -> None:
    assert fluid_is_gone(DRY, course) is gone


@pytest.mark.parametrize(
    ("hole", "one_thing"), [("marginal", True), ("attic", True), ("central", False)]
)
def test_a_hole_at_the_drums_edge_is_one_thing_with_what_is_seen_on_it(
    hole: Any, one_thing: bool
) -> None:
    assert ("perforation" in names_of("drum", Ear(perforation=hole))) is one_thing


def test_a_look_that_is_asked_for_again_with_more_to_look_at_is_another() -> None:
    """It would be answered by too little otherwise."""
    later: date = DAY + timedelta(days=7)
    first = due(track="retraction", needs=("tensa",))
    for needs, closed in ((("tensa",), 0), (("tensa", "attic"), 1)):
        ledger = OpenLedger()
        ledger._keep_asking([first], DAY)
        again = due(track="retraction", needs=needs, asked_on=later, latest=first.latest,
                    earliest=first.earliest, target=first.target)  # fmt: skip
        ledger._keep_asking([again], later)

        (stands,) = ledger.open.values()
        assert set(stands.needs) == set(needs)
        assert [c.reason for c in ledger.closings] == ["superseded"] * closed
