"""What a rule case may expect, and how each expectation is held against a plan.

`dues` and `referrals` must be there; a row may name fewer things than a due has. `asks` says
of single rules what each asks by itself, before rules are merged: what is to be done, how it
is known, which track and category it belongs to.
"""

from __future__ import annotations

from typing import Any

from recall.care.ear import SIDES
from recall.protocol.loading import Protocol, load
from recall.schedule.fold import Folding
from recall.schedule.plan import Due
from tests.protocol.case_files import RuleCase, fired, referrals_as_written, state_of

KNOWN = {
    "dues", "referrals", "closed", "unanswered", "only", "only_referrals", "fires", "not",
    "advice", "nothing", "known_elsewhere", "asks", "view_not_recorded", "ask_when_tested",
}  # fmt: skip
Row = dict[str, Any]


def due_in_full(due: Due) -> Row:
    """Return everything of a due that a case may name."""
    return {
        "ear": due.ear,
        "track": due.track,
        "rule": due.rule,
        "kind": due.kind,
        "window": [due.earliest.isoformat(), due.target.isoformat(), due.latest.isoformat()],
        "urgency": due.urgency,
        "category": due.category,
        "do": list(due.do),
        "needs": list(due.needs),
        "known_by": due.known_by,
    }


def _fits(row: Row, found: Row) -> bool:
    return all(found.get(name) == value for name, value in row.items())


def _due_fits(row: Row, due: Row) -> bool:
    return _fits({"kind": "recheck", **row}, due)


def asks_of(state: Folding, protocol: Protocol) -> dict[str, list[Row]]:
    """Return what each rule asked by itself at the last visit, for each ear it matched."""
    rules = {(rule.id, rule.version): rule for rule in protocol.rules}
    found: dict[str, list[Row]] = {}
    for due in state.asked.dues:
        found.setdefault(due.rule, []).append(due_in_full(due))
    for referral in state.asked.referrals:
        for reason in referral.reasons:
            found.setdefault(reason.rule, []).append(
                {
                    "track": reason.track,
                    "category": rules[reason.rule, reason.rule_version].category,
                    "to": referral.to,
                    "urgency": referral.urgency,
                    "known_by": reason.known_by,
                }
            )
    for _, rule in state.asked.advice:
        told = {"track": rule.track, "category": rule.category, "known_by": rule.known_by}
        found.setdefault(rule.id, []).append(told)
    return found


def _sorted_ears(rows: list[Row]) -> list[Row]:
    return [{**row, "ears": sorted(row["ears"])} for row in rows]


def _check_plan(expect: Row, state: Folding) -> None:
    dues = [due_in_full(d) for d in state.open.values()]
    referrals = referrals_as_written(state)
    wanted, sent = expect.get("dues", []), _sorted_ears(expect.get("referrals", []))
    for row in wanted:
        assert any(_due_fits(row, due) for due in dues), f"{row} is not among {dues}"
    for row in sent:
        assert row in referrals, f"{row} is not among {referrals}"
    if expect.get("only_referrals"):
        assert [r for r in referrals if r not in sent] == []
    if expect.get("only") or expect.get("nothing"):
        assert [d for d in dues if not any(_due_fits(row, d) for row in wanted)] == []
        assert [r for r in referrals if r not in sent] == []


def _check_rules(expect: Row, state: Folding, protocol: Protocol) -> None:
    rules = fired(state)
    assert set(expect.get("fires", [])) <= rules, f"only {sorted(rules)} fired"
    assert not set(expect.get("not", [])) & rules
    given = {rule.id for _, rule in state.asked.advice}
    assert set(expect.get("advice", [])) <= given
    known = {rule.id for _, rule, _ in state.asked.known}
    assert set(expect.get("known_elsewhere", [])) <= known
    asks = asks_of(state, protocol) if "asks" in expect else {}
    for rule, row in expect.get("asks", {}).items():
        assert rule in asks, f"{rule} asks nothing"
        for found in asks[rule]:
            assert _fits(row, found), f"{rule} asks {found}, not {row}"


def _check_history(expect: Row, state: Folding) -> None:
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
    if "ask_when_tested" in expect:
        assert bool(state.asked.untested) is expect["ask_when_tested"]
    if "view_not_recorded" in expect:
        told = [s for s in SIDES if any(f"whether the {s} drum was" in n for n in state.notices)]
        assert told == expect["view_not_recorded"]


def check(expect: Row, state: Folding, protocol: Protocol | None = None) -> None:
    """Hold one plan against all that a case expects of it."""
    _check_plan(expect, state)
    _check_rules(expect, state, protocol or load())
    _check_history(expect, state)


def notices(case: RuleCase, protocol: Protocol) -> bool:
    """Return whether a case fails under another protocol."""
    try:
        check(case.expect, state_of(case, protocol), protocol)
    except AssertionError:
        return True
    return False


def rules_named(case: RuleCase) -> frozenset[str]:
    """Return the rules that a case speaks of in what it expects."""
    expect = case.expect
    named = {*expect.get("fires", ()), *expect.get("not", ()), *expect.get("advice", ())}
    named |= {*expect.get("known_elsewhere", ()), *expect.get("asks", {})}
    named |= {row["rule"] for row in expect.get("dues", ())}
    named |= {rule for row in expect.get("referrals", ()) for rule in row["rules"]}
    return frozenset(named | {row["rule"] for row in expect.get("closed", ())})
