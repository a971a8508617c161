"""Averages and grades of hearing by the published tables."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.care.hearing import (
    FIVE,
    FOUR,
    bsa_grade,
    five_frequency_average,
    four_frequency_average,
    of_ear,
    of_person,
    who_grade,
)
from tests.care.strategies import levels

WHO = ["normal", "mild", "moderate", "moderately_severe", "severe", "profound", "complete"]
BSA = ["normal", "mild", "moderate", "severe", "profound"]
DISAGREEING = {"250": 10, "500": 20, "1000": 20, "2000": 20, "4000": 25}


def flat(level):
    return dict.fromkeys(FIVE, level)


def test_one_audiogram_is_normal_by_one_scheme_and_mild_by_the_other():
    # Arithmetic: (10+20+20+20+25)/5 = 19.0; (20+20+20+25)/4 = 21.25.
    ear = of_ear(DISAGREEING)
    assert (ear.five.value, ear.five.grade) == (19.0, "normal")
    assert (ear.four.value, ear.four.grade) == (21.25, "mild")
    assert (ear.four.edition, ear.five.edition) == ("2021", "2018")


@pytest.mark.parametrize(
    ("average", "grade"),
    [
        # World report on hearing (WHO 2021), table 1.3; 20-95 as quoted, the last row from memory.
        (-20, "normal"),
        (19.75, "normal"),
        (20, "mild"),
        (34.75, "mild"),
        (35, "moderate"),
        (49.75, "moderate"),
        (50, "moderately_severe"),
        (64.75, "moderately_severe"),
        (65, "severe"),
        (79.75, "severe"),
        (80, "profound"),
        (94.75, "profound"),
        (95, "complete"),
        (130, "complete"),
    ],
)
def test_who_grades_begin_on_their_number(average, grade):
    assert who_grade(average) == grade


@pytest.mark.parametrize(
    ("average", "grade"),
    [
        # BSA descriptors as quoted by the NDCS: mild 21-40, moderate 41-70, severe 71-95,
        # profound over 95. Between two printed numbers: the next band (our rule).
        (20, "normal"),
        (20.2, "mild"),
        (21, "mild"),
        (40, "mild"),
        (40.6, "moderate"),
        (41, "moderate"),
        (70, "moderate"),
        (70.4, "severe"),
        (71, "severe"),
        (95, "severe"),
        (95.2, "profound"),
        (96, "profound"),
    ],
)
def test_bsa_descriptors_end_on_their_printed_number(average, grade):
    assert bsa_grade(average) == grade


@pytest.mark.parametrize("hz", FOUR)
def test_a_missing_frequency_leaves_no_average_and_is_named(hz):
    measured = {k: v for k, v in DISAGREEING.items() if k != hz}
    ear = of_ear(measured)
    assert four_frequency_average(measured) is None
    assert five_frequency_average(measured) is None
    assert (ear.four.value, ear.four.grade, ear.four.missing) == (None, None, (hz,))


def test_the_five_frequency_average_alone_needs_250_hz():
    measured = {k: v for k, v in DISAGREEING.items() if k != "250"}
    assert four_frequency_average(measured) == 21.25
    assert of_ear(measured).five.missing == ("250",)


@pytest.mark.parametrize("nothing", [None, {}])
def test_no_test_is_not_normal_hearing(nothing):
    assert four_frequency_average(nothing) is None
    assert of_ear(nothing).four.missing == FOUR
    assert of_ear(nothing).four.grade is None


def test_no_response_counts_as_130_and_is_named():
    # BSA convention, from memory: (80 + 90 + 100 + 130) / 4 = 100.
    ear = of_ear({"500": 80, "1000": 90, "2000": 100, "4000": "nr"})
    assert (ear.four.value, ear.four.no_response) == (100.0, ("4000",))


def test_the_better_ear_decides_the_grade():
    person = of_person(flat(40), flat(20))
    assert (person.better, person.worse, person.better_ear) == (20, 40, "left")
    assert person.grade == "mild"


@pytest.mark.parametrize(
    ("right", "left", "unilateral"),
    [
        # WHO 2021: better ear under 20, worse ear 35 or more (from memory).
        (15, 35, True),
        (35, 15, True),
        (15, 34, False),
        (20, 60, False),
    ],
)
def test_unilateral_loss(right, left, unilateral):
    assert of_person(flat(right), flat(left)).unilateral is unilateral


def test_with_one_ear_unmeasured_the_better_ear_is_unknown():
    person = of_person(flat(15), None)
    assert (person.better, person.grade, person.unilateral) == (None, None, None)


def five_worse(level):
    return level if level == "nr" else min(130.0, level + 5)


@given(levels(*FIVE), st.sampled_from(FIVE))
def test_five_dB_more_never_lowers_a_grade(measured, hz):
    worse = {**measured, hz: five_worse(measured[hz])}
    before, after = of_ear(measured), of_ear(worse)
    assert WHO.index(after.four.grade) >= WHO.index(before.four.grade)
    assert BSA.index(after.five.grade) >= BSA.index(before.five.grade)


@given(levels(*FIVE), levels(*FIVE))
def test_swapping_the_ears_swaps_nothing_but_the_side(right, left):
    one, other = of_person(right, left), of_person(left, right)
    assert (one.better, one.grade, one.unilateral) == (other.better, other.grade, other.unilateral)
