"""Tests of a child by risk alone give way to those of children's audiology, and come back.

One test for one illness, and none that is for life ends with it: common practice, no source; that
the service tests such a child is NICE NG233 (2023), as quoted by an NHS commissioner.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from msgspec import convert

from recall.care.case import Case
from recall.care.ear import SIDES, Side
from recall.protocol.loading import load
from recall.schedule.fold import fold
from recall.schedule.plan import Decision, Ledger

PROTOCOL = load()
SEEN = {"drum_seen": "full", "attic_seen": True}
FLUID = {**SEEN, "effusion": "present"}
DRY = {**SEEN, "effusion": "absent"}


def ledger_of(
    *visits: tuple[str, dict[str, Any], dict[str, Any]],
    risk: str = "down_syndrome",
    decisions: tuple[Decision, ...] = (),
    **more: Any,
) -> Ledger:
    """Return what stands for a child of nearly five after visits of both ears."""
    seen = [{"on": on, "right": right, "left": left} for on, right, left in visits]
    case = convert({"born": "2022-01-01", "risks": [risk], "visits": seen, **more}, Case)
    return fold(case, PROTOCOL, date(2028, 1, 1), decisions=decisions)


def by_risk(ledger: Ledger) -> dict[Side, tuple[str, date, date]]:
    return {d.ear: (d.rule, d.target, d.latest) for d in ledger.open if d.track == "surveillance"}


def ended(on: str, *ears: Side) -> tuple[Decision, ...]:
    """Return that children's audiology has said what came of it."""
    day = date.fromisoformat(on)
    return tuple(
        Decision(on=day, ear=ear, to="paediatric_audiology", action="close", reason="result_back")
        for ear in ears
    )


@pytest.mark.parametrize("risk", ["down_syndrome", "cleft_palate"])
def test_fluid_of_one_ear_has_both_tested_there_and_neither_here(risk: str) -> None:
    ledger = ledger_of(("2026-12-01", FLUID, DRY), risk=risk)

    assert [r.to for r in ledger.referrals] == ["paediatric_audiology"]
    assert by_risk(ledger) == {}


def test_the_day_before_the_tests_here_stand_beside_it() -> None:
    assert set(by_risk(ledger_of(("2026-11-30", FLUID, DRY)))) == set(SIDES)


def test_once_that_service_has_answered_the_test_by_risk_is_asked_for_again() -> None:
    ledger = ledger_of(("2026-12-01", FLUID, DRY), decisions=ended("2027-01-11", "right"))

    within_six_weeks = ("down-under-six", date(2027, 2, 8), date(2027, 2, 22))
    assert by_risk(ledger) == dict.fromkeys(SIDES, within_six_weeks)


def test_it_counts_from_the_test_that_was_done_there_where_that_is_told() -> None:
    told = [
        {"on": "2026-12-20", "ear": ear, "hearing_tested": True, "source": "children's audiology"}
        for ear in SIDES
    ]
    decisions = ended("2027-01-11", "right")
    ledger = ledger_of(("2026-12-01", FLUID, DRY), decisions=decisions, told_by_others=told)

    half_a_year_on = ("down-under-six", date(2027, 6, 20), date(2027, 7, 20))
    assert by_risk(ledger) == dict.fromkeys(SIDES, half_a_year_on)


def test_where_it_still_sees_the_other_ear_nothing_comes_back_yet() -> None:
    both = ("2026-12-01", FLUID, FLUID)

    assert by_risk(ledger_of(both, decisions=ended("2027-01-04", "right"))) == {}
    ledger = ledger_of(both, decisions=ended("2027-01-04", "right", "left"))
    assert set(by_risk(ledger)) == set(SIDES)


def test_a_service_that_takes_the_fluid_into_care_leaves_the_tests_by_risk_here() -> None:
    care = {"of": "paediatric_audiology", "track": "fluid", "since": "2026-12-15"}
    ledger = ledger_of(("2026-12-01", FLUID, FLUID), under_care=[care])

    assert ledger.referrals == ()
    assert set(by_risk(ledger)) == set(SIDES)


def test_a_service_that_has_the_hearing_under_care_does_them() -> None:
    care = [
        {"of": "paediatric_audiology", "track": track, "since": "2026-12-15"}
        for track in ("fluid", "hearing")
    ]

    ledger = ledger_of(("2026-12-01", FLUID, FLUID), under_care=care)

    assert by_risk(ledger) == {}
    asked = {(d.ear, d.track): d.target for d in ledger.open if d.kind == "loop"}
    both = [(side, track) for side in SIDES for track in ("fluid", "hearing")]
    assert asked == dict.fromkeys(both, date(2027, 6, 15))


def test_before_these_rules_nobody_asked_until_the_next_visit() -> None:
    care = {"of": "paediatric_audiology", "track": "hearing", "since": "2026-11-30"}
    ledger = ledger_of(("2026-11-29", DRY, DRY), under_care=[care])

    assert [d for d in ledger.open if d.kind == "loop"] == []
