"""Hearing: averages and grades by named schemes, asymmetry and air-bone gap by edition. Pure.

How each published number is known: R read in the source, R2 read in somebody
else's quotation of it, M from memory (to be checked by the clinical lead).

Rules for what the published texts leave open:

- An average needs every one of its frequencies. One missing: no average, and the
  result says which is missing. Missing is "not recorded", never "normal".
- "No response" counts as 130 dB HL in averages and differences (the British
  Society of Audiology's convention, M; used for the other schemes for want of
  their own). In bone conduction, whose outputs end far below that, it gives no
  gap: that frequency counts as not recorded.
- The BSA bands are printed in whole decibels. An average above a band's printed
  end belongs to the next band: 40 is mild, 40.6 is moderate, 95.2 is profound.
  The band "mild" is printed as 21-40 and elsewhere as 20-40: 20 is normal here.
- Two ears differ at a pair of frequencies by the smaller of the two differences,
  whichever ear is worse. Adjacent means next to each other in the edition's own list.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from typing import Literal, TypeVar

import msgspec

from recall.care.ear import Ear, Side
from recall.care.editions import ASYMMETRY_RULES, CURRENT, GAP_RULES, AsymmetryRule
from recall.care.measured import Hz, Levels

T = TypeVar("T")

NO_RESPONSE = 130.0
FOUR: tuple[Hz, ...] = ("500", "1000", "2000", "4000")
HIGH: tuple[Hz, ...] = ("3000", "4000", "6000", "8000")
FIVE: tuple[Hz, ...] = ("250", "500", "1000", "2000", "4000")

WhoGrade = Literal[
    "normal", "mild", "moderate", "moderately_severe", "severe", "profound", "complete"
]
BsaGrade = Literal["normal", "mild", "moderate", "severe", "profound"]

_WHO_FROM: tuple[tuple[float, WhoGrade], ...] = (
    (95, "complete"),
    (80, "profound"),
    (65, "severe"),
    (50, "moderately_severe"),
    (35, "moderate"),
    (20, "mild"),
)
"""Each grade holds from its number on. World report on hearing 2021, table 1.3 (R2)."""

_BSA_ABOVE: tuple[tuple[float, BsaGrade], ...] = (
    (95, "profound"),
    (70, "severe"),
    (40, "moderate"),
    (20, "mild"),
)
"""Each descriptor holds above its number. BSA descriptors as quoted by the NDCS (R2)."""


class _Result(msgspec.Struct, frozen=True, kw_only=True):
    """What every classifier's result shares."""

    scheme: str
    edition: str


class Average(_Result, frozen=True, kw_only=True):
    """One ear's average, and the scheme's word for it."""

    value: float | None
    """dB HL; None where a frequency is missing."""
    grade: str | None
    missing: tuple[Hz, ...] = ()
    no_response: tuple[Hz, ...] = ()


class EarHearing(msgspec.Struct, frozen=True, kw_only=True):
    """One ear by both schemes, side by side, because they can disagree."""

    four: Average
    five: Average


class PersonHearing(_Result, frozen=True, kw_only=True):
    """Both ears by the WHO grades: the better ear decides."""

    better: float | None
    worse: float | None
    better_ear: Side | None
    """None where the ears are equal or one was not measured."""
    grade: WhoGrade | None
    unilateral: bool | None


class Asymmetry(_Result, frozen=True, kw_only=True):
    """The difference between two ears by one edition."""

    conduction: Literal["air", "bone"]
    difference_dB: float | None  # noqa: N815
    pair: tuple[Hz, Hz] | None
    limit_dB: float  # noqa: N815
    refers: bool | None
    """Whether the edition asks for a referral; None where it cannot be told."""


def _average(levels: Levels | None, frequencies: tuple[Hz, ...]) -> float | None:
    total = 0.0
    for hz in frequencies:
        level = levels.get(hz) if levels else None
        if level is None:
            return None
        total += NO_RESPONSE if level == "nr" else level
    return total / len(frequencies)


def four_frequency_average(levels: Levels | None) -> float | None:
    """Return the mean of 0.5, 1, 2 and 4 kHz, or None where one is missing.

    >>> four_frequency_average({"500": 20, "1000": 20, "2000": 20, "4000": 25})
    21.25
    """
    return _average(levels, FOUR)


def high_tone_average(levels: Levels | None) -> float | None:
    """Return the mean of 4 kHz and of what was tested at 3, 6 and 8 kHz; None without 4 kHz.

    Common practice, no source: a loss of high tones alone leaves the mean of four as it was.

    >>> high_tone_average({"2000": 20, "4000": 45, "8000": 71})
    58.0
    """
    if levels is None or levels.get("4000") is None:
        return None
    return _average(levels, tuple(hz for hz in HIGH if levels.get(hz) is not None))


def worst_of_four(levels: Levels | None) -> float | None:
    """Return the worst level of those of 0.5, 1, 2 and 4 kHz that were tested; None without any.

    Common practice, no source: one bad frequency leaves the mean of four nearly as it was.

    >>> worst_of_four({"500": 10, "1000": 10, "4000": 60, "8000": 90})
    60.0
    """
    tested = [levels[hz] for hz in FOUR if hz in levels] if levels else []
    return max((NO_RESPONSE if each == "nr" else float(each) for each in tested), default=None)


def five_frequency_average(levels: Levels | None) -> float | None:
    """Return the mean of 0.25, 0.5, 1, 2 and 4 kHz, or None where one is missing.

    >>> five_frequency_average({"250": 10, "500": 20, "1000": 20, "2000": 20, "4000": 25})
    19.0
    """
    return _average(levels, FIVE)


def who_grade(average: float) -> WhoGrade:
    """Return the WHO grade of a four-frequency mean.

    >>> who_grade(19.9), who_grade(20), who_grade(95)
    ('normal', 'mild', 'complete')
    """
    return next((grade for start, grade in _WHO_FROM if average >= start), "normal")


def bsa_grade(average: float) -> BsaGrade:
    """Return the BSA descriptor of a five-frequency mean.

    >>> bsa_grade(20), bsa_grade(40), bsa_grade(40.6)
    ('normal', 'mild', 'moderate')
    """
    return next((grade for end, grade in _BSA_ABOVE if average > end), "normal")


def _absent(levels: Levels | None, frequencies: tuple[Hz, ...]) -> tuple[Hz, ...]:
    return tuple(hz for hz in frequencies if not levels or hz not in levels)


def _silent(levels: Levels | None, frequencies: tuple[Hz, ...]) -> tuple[Hz, ...]:
    return tuple(hz for hz in frequencies if levels and levels.get(hz) == "nr")


def of_ear(levels: Levels | None) -> EarHearing:
    """Return one ear's averages by both schemes, with what is missing.

    >>> seen = of_ear({"250": 10, "500": 20, "1000": 20, "2000": 20, "4000": 25})
    >>> (seen.four.grade, seen.five.grade)
    ('mild', 'normal')
    """
    four, five = four_frequency_average(levels), five_frequency_average(levels)
    return EarHearing(
        four=Average(
            scheme="WHO grade of the mean of 0.5, 1, 2 and 4 kHz",
            edition="2021",
            value=four,
            grade=None if four is None else who_grade(four),
            missing=_absent(levels, FOUR),
            no_response=_silent(levels, FOUR),
        ),
        five=Average(
            scheme="BSA descriptor of the mean of 0.25, 0.5, 1, 2 and 4 kHz",
            edition="2018",
            value=five,
            grade=None if five is None else bsa_grade(five),
            missing=_absent(levels, FIVE),
            no_response=_silent(levels, FIVE),
        ),
    )


def of_person(right: Levels | None, left: Levels | None) -> PersonHearing:
    """Return both ears by the WHO grades; all unknown where an ear has no average."""
    first, second = four_frequency_average(right), four_frequency_average(left)
    better = worse = grade = unilateral = None
    ear: Side | None = None
    if first is not None and second is not None:
        better, worse = min(first, second), max(first, second)
        grade = who_grade(better)
        unilateral = better < 20 and worse >= 35
        if first != second:
            ear = "right" if first < second else "left"
    return PersonHearing(
        scheme="WHO grades of hearing loss",
        edition="2021",
        better=better,
        worse=worse,
        better_ear=ear,
        grade=grade,
        unilateral=unilateral,
    )


def _apart(right: Levels, left: Levels, hz: Hz) -> float | None:
    one, other = right.get(hz), left.get(hz)
    if one is None or other is None:
        return None
    if one == "nr":
        one = NO_RESPONSE
    if other == "nr":
        other = NO_RESPONSE
    return one - other if one > other else other - one


def _pairs(
    right: Levels, left: Levels, rule: AsymmetryRule
) -> Iterator[tuple[float, tuple[Hz, Hz]]]:
    """Yield the smaller difference of each pair of frequencies that the edition looks at."""
    apart = [(_apart(right, left, hz), hz) for hz in rule.frequencies]
    for (low, low_hz), (high, high_hz) in _two_of(apart, rule):
        if low is not None and high is not None:
            yield min(low, high), (low_hz, high_hz)


def _two_of(each: Sequence[T], rule: AsymmetryRule) -> Iterator[tuple[T, T]]:
    return pairwise(each) if rule.adjacent else combinations(each, 2)


def asymmetry_dB(  # noqa: N802
    right: Levels | None, left: Levels | None, edition: str = CURRENT
) -> float | None:
    """Return the largest difference that two frequencies (adjacent ones, mostly) both reach.

    The levels are of the conduction that the edition names. None where no such
    pair was measured in both ears.

    >>> asymmetry_dB({"500": 10, "1000": 10, "2000": 10}, {"500": 20, "1000": 25, "2000": 30})
    15.0
    """
    if not right or not left:
        return None
    rule = ASYMMETRY_RULES[edition]
    apart = [_apart(right, left, hz) for hz in rule.frequencies]
    if not rule.adjacent:
        largest = sorted((each for each in apart if each is not None), reverse=True)
        return float(largest[1]) if len(largest) > 1 else None
    most = before = None
    for each in apart:
        if each is not None and before is not None:
            both = each if each < before else before
            most = both if most is None or both > most else most
        before = each
    return None if most is None else float(most)


def asymmetry(right: Ear, left: Ear, edition: str = CURRENT) -> Asymmetry:
    """Return the difference between two ears by one edition, and whether it refers.

    Unmeasured pairs can hide an asymmetry: below the limit with a pair missing,
    `refers` is None.
    """
    rule = ASYMMETRY_RULES[edition]
    air = rule.conduction == "air"
    first = (right.hearing_dB if air else right.bone_dB) or {}
    second = (left.hearing_dB if air else left.bone_dB) or {}
    pairs = list(_pairs(first, second, rule))
    most = max(pairs, key=lambda each: each[0], default=None)
    refers = most is not None and most[0] >= rule.limit_dB
    complete = len(pairs) == sum(1 for _ in _two_of(rule.frequencies, rule))
    return Asymmetry(
        scheme=rule.scheme,
        edition=rule.edition,
        conduction=rule.conduction,
        difference_dB=float(most[0]) if most else None,
        pair=most[1] if most else None,
        limit_dB=rule.limit_dB,
        refers=refers if refers or complete else None,
    )


def air_bone_gap(air: Levels | None, bone: Levels | None, edition: str = CURRENT) -> float | None:
    """Return the air-bone gap in dB as an edition counts it; None where it cannot be.

    >>> air_bone_gap({"500": 40, "1000": 35, "2000": 30}, {"500": 10, "1000": 10, "2000": 10})
    25.0
    """
    if not air or not bone:
        return None
    rule = GAP_RULES[edition]
    gaps = []
    for hz in rule.frequencies:
        over, under = air.get(hz), bone.get(hz)
        if over is not None and under is not None and under != "nr":
            gaps.append((NO_RESPONSE if over == "nr" else over) - under)
    if len(gaps) < rule.take:
        return None
    largest = sorted(gaps, reverse=True)[: rule.take]
    return float(sum(largest) / rule.take if rule.how == "mean" else largest[-1])
