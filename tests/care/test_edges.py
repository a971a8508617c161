"""The last value on each side of a limit: days of a case file, ends of months, levels in dB."""

from __future__ import annotations

from datetime import date, timedelta

import msgspec
import pytest

from recall.care.case import CASE_VERSION, DAYS_IN, Case
from recall.care.casefile import check_case
from recall.care.dates import Before, add, resolve
from recall.care.ear import Ear
from recall.care.hearing import GAP_RULES, air_bone_gap, of_person
from recall.care.measured import Tympanogram
from recall.care.tympanogram import classify
from recall.errors import InputError


def tones(level: int) -> dict[str, int]:
    return dict.fromkeys(("500", "1000", "2000", "4000"), level)


def checked(**more: object) -> None:
    given = {"born": "2018-03-02", "visits": [{"on": "2026-09-01"}], **more}
    check_case(msgspec.convert(given, Case))


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ({"born": "2100-12-31", "visits": []}, {"born": "2101-01-01", "visits": []}),
        ({"visits": [{"on": "2100-12-31"}]}, {"visits": [{"on": "2101-01-01"}]}),
        (
            {"born": "1900-01-01", "visits": []},
            {"born": "1899-12-31", "visits": []},
        ),
        (
            {"born": "1900-01-01", "visits": [{"on": "2030-12-31"}]},
            {"born": "1900-01-01", "visits": [{"on": "2031-01-01"}]},
        ),
        ({"loss_treated_on": "2018-03-02"}, {"loss_treated_on": "2018-03-01"}),
        ({"loss_treated_on": "2018-03"}, {"loss_treated_on": "2018-02"}),
        (
            {"risks": [{"what": "diabetes", "since": "2026-08-10", "until": "2026-08-10"}]},
            {"risks": [{"what": "diabetes", "since": "2026-08-10", "until": "2026-08-09"}]},
        ),
        (
            {"born": "2018-03-31", "loss_treated_on": "2018-03"},
            {"born": "2018-03-31", "loss_treated_on": "2018-03-30"},
        ),
        (
            {"under_care": [{"of": "ent", "since": {"weeks": 6}, "until": "2026-07-21"}]},
            {"under_care": [{"of": "ent", "since": {"weeks": 6}, "until": "2026-07-20"}]},
        ),
    ],
)
def test_the_last_that_can_be_is_read_and_the_next_is_refused(
    right: dict[str, object], wrong: dict[str, object]
) -> None:
    checked(**right)
    with pytest.raises(InputError):
        checked(**wrong)


@pytest.mark.parametrize("since", ["2026-08-10", {"weeks": 6}])
@pytest.mark.parametrize("until", ["2026-08-10", {"weeks": 5}])
def test_a_span_of_a_person_without_visits_is_read(since: object, until: object) -> None:
    checked(visits=[], risks=[{"what": "diabetes", "since": since, "until": until}])


@pytest.mark.parametrize(
    ("unit", "most"), [("years", 130), ("months", 1560), ("weeks", 6800), ("days", 47500)]
)
def test_how_long_before_is_counted_from_none_to_a_long_life(unit: str, most: int) -> None:
    other = "days" if unit == "years" else "years"

    for count in (0, most):
        assert getattr(msgspec.convert({unit: count, other: 1}, Before), unit) == count
    for count in (-1, most + 1):
        with pytest.raises(msgspec.ValidationError):
            msgspec.convert({unit: count, other: 1}, Before)


def test_each_unit_is_counted_back_by_itself() -> None:
    """Worked out by hand, from 31 March 2026: years, months, then weeks and days."""
    on = date(2026, 3, 31)

    assert resolve(Before(years=1), on).on == date(2025, 3, 31)
    assert resolve(Before(months=1), on).on == date(2026, 2, 28)
    assert resolve(Before(weeks=1), on).on == date(2026, 3, 24)
    assert resolve(Before(days=1), on).on == date(2026, 3, 30)
    assert resolve(Before(years=1, months=1, weeks=1, days=1), on).on == date(2025, 2, 20)


def test_the_end_of_every_month_clips_back() -> None:
    """Month ends of 2025 and of the leap year 2028, as any calendar has them."""
    ends = (28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)

    for months, day in enumerate(ends, 1):
        assert add(date(2025, 1, 31), months=months).day == day
    assert add(date(2028, 1, 31), months=1) == date(2028, 2, 29)
    for start in (date(2026, 1, 1), date(2026, 12, 31)):
        assert add(start, days=1) == start + timedelta(days=1)


def test_one_ear_unknown_leaves_the_better_one_unknown() -> None:
    assert of_person(None, tones(20)).better is None
    assert of_person(tones(20), None).better is None
    assert of_person(tones(20), tones(30)).better == 20


@pytest.mark.parametrize(("better", "worse", "one_sided"), [
    (19, 35, True), (20, 35, False), (19, 34, False),
])  # fmt: skip
def test_one_sided_loss_is_under_20_and_35_or_worse(
    better: int, worse: int, one_sided: bool
) -> None:
    """WHO, World report on hearing 2021, table 1.3 (from memory)."""
    assert of_person(tones(better), tones(worse)).unilateral is one_sided


def test_no_response_by_air_counts_as_130_dB_and_by_bone_tells_nothing() -> None:
    """BSA: no response at the limit scores 130 dB HL (from memory)."""
    bone = {"500": 10, "1000": 10, "2000": 10}

    assert air_bone_gap({"500": "nr", "1000": 40, "2000": 40}, bone) == (120 + 30 + 30) / 3
    assert air_bone_gap({"500": 40, "1000": 40, "2000": 40}, {**bone, "500": "nr"}) is None


def test_the_limits_of_gaps_are_those_of_their_editions() -> None:
    """BAA 2016 20 dB (the 2023 figure from memory); 2009: 25 dB at two frequencies (read)."""
    limits = {(rule.edition, rule.limit_dB) for rule in GAP_RULES.values()}

    assert limits == {("2023", 20), ("2016", 20), ("2009", 25)}


@pytest.mark.parametrize(("least", "most"), [(-20, 130)])
def test_levels_are_read_from_20_below_to_130(least: int, most: int) -> None:
    for level in (least, most):
        assert msgspec.convert({"hearing_dB": {"500": level}}, Ear).hearing_dB == {"500": level}
    for wrong in ({"500": least - 1}, {"500": most + 1}, {}):
        with pytest.raises(msgspec.ValidationError):
            msgspec.convert({"hearing_dB": wrong}, Ear)


def test_a_case_is_of_this_version_where_it_does_not_say() -> None:
    assert Case(born=date(2018, 3, 2)).case_version == CASE_VERSION == 1


def test_longer_units_are_read_as_days() -> None:
    """A month and a year by their usual days: common practice, no source."""
    assert DAYS_IN == {"day": 1, "week": 7, "month": 30, "year": 365}


def test_a_peak_above_the_scheme_is_noted() -> None:
    found = classify(Tympanogram(peak_daPa=210, compliance_ml=0.6, volume_ml=1.0), child=True)

    assert found.letter is None
    assert "Peak above +200 daPa: outside the scheme." in found.notes
