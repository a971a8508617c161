"""Every rule case: the history as given, and the same history with the ears changed over.

A case says `dues`, `referrals`, `closed` and `unanswered` that must be there (`only = true`:
and no other due or referral; `only_referrals = true`: no other referral), `fires` and `not`
for the rules that must and must not match at the last visit, `asks` for what single rules ask
by themselves, `advice` that must be given, `view_not_recorded` for the ears of which the plan
says so, and `nothing = true` where nothing is due.
"""

from __future__ import annotations

import pytest

from tests.protocol.case_files import RuleCase, all_cases, other_way, state_of
from tests.protocol.expectations import KNOWN, check

CASES = all_cases()
IDS = [case.id for case in CASES]


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_case_comes_out_as_worked_out_by_hand(case: RuleCase) -> None:
    assert set(case.expect) <= KNOWN
    assert case.expect, "a case must expect something"
    assert case.source.strip()
    check(case.expect, state_of(case))


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_ears_changed_over_change_the_plan_over(case: RuleCase) -> None:
    other = other_way(case)
    check(other.expect, state_of(other))


def test_names_are_told_apart() -> None:
    assert len(set(IDS)) == len(IDS)
