"""The aims of the case mix, at a small size that is always the same: how much a plan asks.

The aims of restraint are this project's own (common practice, no source); the yardstick for those
sent on to secondary care is 3 to 5 in 100 of published community services for ears (193 of 5,353:
Pharm J, 2024, on the Health Innovation Wessex evaluation; 5 in 100 of 408: Hall, BMC Health Serv
Res 2019;19). The mix has three red flags in 100, which all go there.
"""

from __future__ import annotations

from functools import cache

from recall.protocol.loading import load
from recall.schedule.planning import plan
from tests.benchmarks.case_mix import ASKED, MIX, Figures, figures, mix

VISITS = 600


@cache
def found() -> Figures:
    return figures(VISITS)


def test_the_mix_is_what_it_says_and_every_rule_in_force_judges_it() -> None:
    """Seeded: the same visits each time, each kind near its share of a hundred."""
    met = list(mix(VISITS))
    shares = {kind: 100 * sum(m.kind == kind for m in met) / VISITS for kind, _ in MIX}

    assert [m.case for m in met] == [m.case for m in mix(VISITS)]
    assert all(abs(shares[kind] - share) < 4 for kind, share in MIX)
    assert min(m.on for m in met) >= max(rule.since for rule in load().rules)


def test_no_more_are_sent_on_to_secondary_care_than_by_published_services() -> None:
    assert 2 < found().to_hospital <= 5
    assert found().wax_referred <= 5


def test_adults_with_nothing_abnormal_get_nothing() -> None:
    assert found().nothing[ASKED] >= 95


def test_no_window_is_narrow_and_hardly_anybody_has_more_than_two_appointments() -> None:
    assert found().narrow == 0
    assert found().many < 1


def test_a_child_with_fluid_in_both_ears_has_six_lines_to_read_at_most() -> None:
    assert 0 < found().lines <= 6


def test_every_red_flag_is_sent_on_as_urgent_or_at_once() -> None:
    flags = [m for m in mix(VISITS) if m.kind == "red flag"]
    urgencies = [{r.urgency for r in plan(m.case, load(), m.on).referrals} for m in flags]

    assert len(flags) > 5
    assert all(each & {"urgent", "emergency"} for each in urgencies)
