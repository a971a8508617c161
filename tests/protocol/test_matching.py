"""Which bits findings switch on, and which rules then match, on rules made for this by hand."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from recall.care.course import Course
from recall.care.ear import Ear
from recall.protocol.context import Circumstance
from recall.protocol.matching import Matcher
from tests.protocol.test_checking import protocol

ON = date(2026, 9, 1)
GRADE = {"ear": {"tensa_grade": "2 or worse"}}


def dB(*levels: float) -> dict[str, float]:
    """Return the levels at four frequencies, from one level for all or from each."""
    each = levels * 4 if len(levels) == 1 else levels
    return dict(zip(("500", "1000", "2000", "4000"), each, strict=True))


def matcher(tmp_path: Path, *conditions: dict[str, Any], **more: Any) -> Matcher:
    rules = [{"id": f"r{n}", "when": when, **more} for n, when in enumerate(conditions)]
    return protocol(tmp_path, *rules).matcher


def at(**course: Any) -> Circumstance:
    return Circumstance(ON, 34, Course(**course), Course(), {}, None)


def matched(found: Matcher, bits: int, there: Circumstance) -> list[str]:
    return [rule.id for rule in found.matches(bits, there)]


@pytest.mark.parametrize(
    ("line", "right", "left", "sides"),
    [
        ({"asymmetry": "15 dB or worse"}, 40.0, 10.0, (True, False)),
        ({"asymmetry": "15 dB or worse"}, 10.0, 40.0, (False, True)),
        ({"asymmetry": "15 dB or worse"}, 25.0, 10.0, (True, False)),
        ({"asymmetry": "16 dB or worse"}, 25.0, 10.0, (False, False)),
        ({"better_ear_loss": "25 dB or worse"}, 25.0, 60.0, (True, True)),
        ({"better_ear_loss": "25 dB or worse"}, 60.0, 25.0, (True, True)),
        ({"better_ear_loss": "25 dB or worse"}, 24.0, 60.0, (False, False)),
    ],
)
def test_what_both_ears_tests_make_together(
    tmp_path: Path, line: dict[str, str], right: float, left: float, sides: tuple[bool, bool]
) -> None:
    ears = Ear(hearing_dB=dB(right)), Ear(hearing_dB=dB(left))

    bits = matcher(tmp_path, {"ear": line}).pair_bits(ears, (right, left))

    assert tuple(map(bool, bits)) == sides


def test_a_difference_belongs_to_both_ears_where_neither_mean_is_worse(tmp_path: Path) -> None:
    found = matcher(tmp_path, {"ear": {"asymmetry": "15 dB or worse"}})
    right = Ear(hearing_dB=dB(40, 40, 10, 10))
    left = Ear(hearing_dB=dB(10, 10, 40, 40))

    for means in ((25.0, 25.0), (None, 25.0), (25.0, None)):
        assert tuple(map(bool, found.pair_bits((right, left), means))) == (True, True)


def test_one_ear_alone_makes_no_pair(tmp_path: Path) -> None:
    found = matcher(tmp_path, {"ear": {"asymmetry": "15 dB or worse"}},
                    {"ear": {"better_ear_loss": "25 dB or worse"}})  # fmt: skip
    tested, untested = Ear(hearing_dB=dB(60)), Ear()

    for pair in ((None, tested), (tested, None), (untested, tested), (tested, untested)):
        assert found.pair_bits(pair, (60.0, 60.0)) == (0, 0)


def test_a_scale_counts_from_its_mildest_value_on(tmp_path: Path) -> None:
    found = matcher(tmp_path, GRADE, {"ear": {"hearing_loss": "25 dB or worse"}},
                    {"ear": {"air_bone_gap": "20 dB or worse"}})  # fmt: skip
    grades = [
        matched(found, found.ear_bits(Ear(tensa_grade=grade), False, Course()), at())
        for grade in (0, 1, 2, 3)
    ]
    by_mean = [
        matched(found, found.ear_bits(Ear(), False, Course(mean_today=mean)), at())
        for mean in (None, 24.9, 25.0)
    ]
    by_gap = [
        matched(found, found.ear_bits(Ear(), False, Course(gap_today=gap)), at())
        for gap in (None, 19.0, 20.0)
    ]

    assert grades == [[], [], ["r0"], ["r0"]]
    assert by_mean == [[], [], ["r1"]]
    assert by_gap == [[], [], ["r2"]]


def test_a_line_of_the_other_ear_is_met_from_across_only(tmp_path: Path) -> None:
    found = matcher(tmp_path, {"other": {"tensa_grade": "2 or worse"}}, GRADE)
    bits = found.ear_bits(Ear(tensa_grade=2), False, Course())

    assert matched(found, bits, at()) == ["r1"]
    assert matched(found, found.seen_across(bits), at()) == ["r0"]
    assert matched(found, found.seen_across(bits), at()) == ["r0"]
    assert found.seen_across(found.ear_bits(Ear(tensa_grade=1), False, Course())) == 0


def test_of_two_lines_of_the_other_ear_only_what_is_there_is_met(tmp_path: Path) -> None:
    found = matcher(tmp_path, {"other": {"keratin": True}}, {"other": {"polyp": True}},
                    {"other": {"tensa_grade": "2 or worse"}}, GRADE)  # fmt: skip

    for ear, rules in (
        (Ear(keratin=True), ["r0"]),
        (Ear(polyp=True), ["r1"]),
        (Ear(keratin=True, polyp=True), ["r0", "r1"]),
        (Ear(polyp=True, tensa_grade=3), ["r1", "r2"]),
        (Ear(red=True), []),
    ):
        bits = found.ear_bits(ear, False, Course())
        assert matched(found, found.seen_across(bits), at()) == rules


def test_rules_with_and_without_a_history_come_in_the_order_of_the_file(tmp_path: Path) -> None:
    never, once = ({"course": {"hearing_tested": text}} for text in ("never", "under 3 months"))
    found = matcher(tmp_path, GRADE, {**GRADE, **never}, GRADE, {**GRADE, **once},
                    {**GRADE, **never}, GRADE)  # fmt: skip
    bits = found.ear_bits(Ear(tensa_grade=2), False, Course())

    assert matched(found, bits, at()) == ["r0", "r1", "r2", "r4", "r5"]
    assert matched(found, bits, at(hearing_on=ON)) == ["r0", "r2", "r3", "r5"]


def test_ages_risks_and_reports_are_met_by_their_words(tmp_path: Path) -> None:
    found = matcher(
        tmp_path,
        {"person": {"age": "under 16"}},
        {"person": {"risk": ["autism", "dementia"]}},
        {"report": {"said": ["pain"]}},
        {"report": {"said": ["pain"], "also": ["vertigo"]}},
    )

    assert [matched(found, found.age_bits(age), at()) for age in (15, 16, 15)] == [
        ["r0"],
        [],
        ["r0"],
    ]
    assert matched(found, found.risk_bits(["dementia"]), at()) == ["r1"]
    assert matched(found, found.risk_bits([]), at()) == []
    assert matched(found, found.said_bits(["pain"]), at()) == ["r2"]
    assert matched(found, found.said_bits(["vertigo"]), at()) == []
    assert matched(found, found.said_bits(["vertigo", "pain"]), at()) == ["r2", "r3"]


def test_context_lines_must_all_hold_and_those_of_unless_must_not(tmp_path: Path) -> None:
    tested = {"hearing_tested": "under 3 months"}
    found = matcher(
        tmp_path,
        {**GRADE, "course": tested},
        {**GRADE, "course": {**tested, "screens_failed": "2 or more"}},
        GRADE,
        unless={"course": {"unseen_visits": "3 or more"}},
        unless_because="invented",
    )
    bits = found.ear_bits(Ear(tensa_grade=2), False, Course())
    july, march = date(2026, 7, 1), date(2026, 3, 1)

    for course, rules in (
        ({}, ["r2"]),
        ({"hearing_on": july}, ["r0", "r2"]),
        ({"hearing_on": march, "screens_failed": 2}, ["r2"]),
        ({"hearing_on": july, "screens_failed": 1}, ["r0", "r2"]),
        ({"hearing_on": july, "screens_failed": 2}, ["r0", "r1", "r2"]),
        ({"hearing_on": july, "screens_failed": 2, "unseen_visits": 2}, ["r0", "r1", "r2"]),
        ({"hearing_on": july, "screens_failed": 2, "unseen_visits": 3}, []),
    ):
        assert matched(found, bits, at(**course)) == rules


@pytest.mark.parametrize(
    ("wanted", "tested_on", "matches"),
    [
        ("4 to 90 days", date(2026, 8, 28), True),
        ("4 to 90 days", date(2026, 8, 29), False),
        ("4 to 90 days", date(2026, 6, 3), True),
        ("4 to 90 days", date(2026, 6, 2), False),
        ("under 3 months", date(2026, 6, 2), True),
        ("under 3 months", date(2026, 6, 1), False),
        ("3 months or more", date(2026, 6, 1), True),
        ("3 months or more", date(2026, 6, 2), False),
        ("3 months or more", None, False),
        ("3 months or more or never", None, True),
        ("never", None, True),
        ("never", ON, False),
    ],
)
def test_a_clock_is_tried_in_its_unit_and_never_where_it_is_said(
    tmp_path: Path, wanted: str, tested_on: date | None, matches: bool
) -> None:
    found = matcher(tmp_path, {"course": {"hearing_tested": wanted}})

    assert bool(found.matches(0, at(hearing_on=tested_on))) is matches


def test_rules_come_in_the_order_of_the_file_on_the_days_they_are_in_force(tmp_path: Path) -> None:
    found = protocol(
        tmp_path,
        {"id": "b", "when": {"course": {"hearing_tested": "never"}}},
        {"id": "a", "since": "2026-09-01"},
        {"id": "c", "until": "2026-09-01"},
    ).matcher
    bits = found.ear_bits(Ear(tensa_grade=2), False, Course())
    before = Circumstance(date(2026, 8, 31), 34, Course(), Course(), {}, None)

    assert matched(found, bits, at()) == ["b", "a"]
    assert matched(found, bits, before) == ["b", "c"]
