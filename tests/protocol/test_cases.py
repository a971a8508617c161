"""Every rule case: the history as given, and the same history with the ears changed over.

A case says `dues`, `referrals`, `closed` and `unanswered` that must be there (`only = true`:
and no other due or referral; `only_referrals = true`: no other referral), `fires` and `not`
for the rules that must and must not match at the last visit, `advice` that must be given, and
`nothing = true` where nothing is due.
"""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from recall.care.casefile import decode_case
from recall.schedule.fold import Folding
from tests.protocol.case_files import (
    RuleCase,
    all_cases,
    due_as_written,
    fired,
    mirrored,
    referrals_as_written,
    state_of,
)

CASES = all_cases()
KNOWN = {
    "dues", "referrals", "closed", "unanswered", "only", "only_referrals", "fires", "not",
    "advice", "nothing", "known_by", "known_elsewhere",
}  # fmt: skip
IDS = [case.id for case in CASES]


def _sorted_ears(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [{**row, "ears": sorted(row["ears"])} for row in rows]


def _check_asks(expect: dict[str, Any], state: Folding) -> None:
    dues = [due_as_written(d) for d in state.open.values()]
    referrals = referrals_as_written(state)
    wanted, sent = expect.get("dues", []), _sorted_ears(expect.get("referrals", []))
    for row in wanted:
        assert row in dues, f"{row} is not among {dues}"
    for row in sent:
        assert row in referrals, f"{row} is not among {referrals}"
    if expect.get("only_referrals"):
        assert [r for r in referrals if r not in sent] == []
    if expect.get("only") or expect.get("nothing"):
        assert [d for d in dues if d not in wanted] == []
        assert [r for r in referrals if r not in sent] == []


def _check_rules(expect: dict[str, Any], state: Folding) -> None:
    rules = fired(state)
    assert set(expect.get("fires", [])) <= rules, f"only {sorted(rules)} fired"
    assert not set(expect.get("not", [])) & rules
    given = {rule.id for _, rule in state.asked.advice}
    assert set(expect.get("advice", [])) <= given
    known = {rule.id for _, rule, _ in state.asked.known}
    assert set(expect.get("known_elsewhere", [])) <= known


def _check_history(expect: dict[str, Any], state: Folding) -> None:
    closed = [
        {"ear": c.due.ear, "track": c.due.track, "rule": c.due.rule, "reason": c.reason}
        for c in state.closings
    ]
    for row in expect.get("closed", []):
        assert row in closed, f"{row} is not among {closed}"
    if "unanswered" in expect:
        found = [
            {"ear": u.ear, "track": u.track, "latest": u.latest.isoformat()}
            for u in state.unanswered
        ]
        assert sorted(found, key=str) == sorted(expect["unanswered"], key=str)
    for rule, mark in expect.get("known_by", {}).items():
        marks = {d.known_by for d in state.asked.dues if d.rule == rule}
        marks |= {
            reason.known_by
            for r in state.asked.referrals
            for reason in r.reasons
            if reason.rule == rule
        }
        assert marks == {mark}


def _check(expect: dict[str, Any], state: Folding) -> None:
    _check_asks(expect, state)
    _check_rules(expect, state)
    _check_history(expect, state)


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_case_comes_out_as_worked_out_by_hand(case: RuleCase) -> None:
    assert set(case.expect) <= KNOWN
    assert case.expect, "a case must expect something"
    assert case.source.strip()
    _check(case.expect, state_of(case.case(), case.on))


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_ears_changed_over_change_the_plan_over(case: RuleCase) -> None:
    given = decode_case(msgspec.json.encode(mirrored(case.given)))
    _check(mirrored(case.expect), state_of(given, case.on))


def test_names_are_told_apart() -> None:
    assert len(set(IDS)) == len(IDS)
