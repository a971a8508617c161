"""Every rule is fired by a case, held to the day it starts, and shown in the coverage table."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from functools import cache
from itertools import pairwise

import msgspec
import pytest

from recall.protocol.checking import values
from recall.protocol.loading import Protocol, load, versions
from recall.protocol.rules import Advise, Rule
from tests.protocol.case_files import RuleCase, all_cases, fired, state_of, versions_fired

RULES = load().rules
STARTS = date(2020, 1, 1)
"""Early enough for a first import to find its backlog."""
_SECOND = date(2026, 11, 28)
LATER: dict[str, date] = {
    "only-ear-canal": date(2026, 12, 2),
    "asymmetry-tested-alone": date(2026, 12, 2),
    "acute-infection-untreated": _SECOND,
    "canal-untreated": _SECOND,
    "canal-treated-advice": _SECOND,
    "blood-found": _SECOND,
    "concern-adult-loss": _SECOND,
    "difference-after-suction": _SECOND,
    "concern-after-suction": _SECOND,
    "worse-after-suction": _SECOND,
    "bled-by-itself": _SECOND,
    "vertigo-today": _SECOND,
    "vertigo-from-care": _SECOND,
    "drops-first": _SECOND,
    "no-drops": _SECOND,
    "no-drops-operated": _SECOND,
    "aid-part-advice": _SECOND,
    "canal-often-half-year": _SECOND,
    "canal-often-year": _SECOND,
    "acute-often-half-year": _SECOND,
    "acute-often-year": _SECOND,
    "canal-eczema-advice": _SECOND,
    "itch-advice": _SECOND,
    "keratin-plug-care": _SECOND,
    "hurt-by-care-look": _SECOND,
    "hurt-by-care-advice": _SECOND,
    "blocked-feeling-advice": _SECOND,
    "barotrauma-advice": _SECOND,
    "barotrauma-inner-ear": _SECOND,
    "dizzy-after-care-advice": _SECOND,
    "first-hearing-aid": _SECOND,
    "first-hearing-aid-child": _SECOND,
    "pain-long-forty": _SECOND,
    "worsening-loss-undated": _SECOND,
    "worsening-loss-old": _SECOND,
    "tinnitus-one-sided-undated": _SECOND,
    "tinnitus-one-sided-advice": _SECOND,
    "grommet-test-unknown": _SECOND,
    "tensa-one-child-stable": _SECOND,
    "tensa-two-child-stable": _SECOND,
    "attic-one-child-stable": _SECOND,
    "attic-two-adult": _SECOND,
    "tensa-step-worse-adult": _SECOND,
    "attic-step-worse-adult": _SECOND,
    "view-adult-unable": _SECOND,
    "view-failed-twice-unable": _SECOND,
    "view-refused": _SECOND,
    "fluid-over-forty-again": _SECOND,
    "canal-treated-long": _SECOND,
    "canal-untreated-runs": _SECOND,
    "canal-untreated-fungal": _SECOND,
    "canal-mild-advice": _SECOND,
    "fluid-child-advice": date(2026, 11, 29),
    **dict.fromkeys(
        (
            "worsening-loss-undated-child",
            "worsening-loss-lately",
            "sudden-loss-since-days",
            "fluctuating-test",
            "sudden-vertigo-past-week",
            "vertigo-told-loss",
            "vertigo-drum",
            "vertigo-hole",
            "vertigo-cavity",
            "vertigo-gp",
            "pain-look-undated",
            "bad-pain-look-undated",
            "canal-severe-pain",
            "pus-untreated",
            "hole-watched-child",
            "hole-watched-edge",
            "canal-not-better",
            "loss-after-suction",
            "hole-quiet-advice",
            "concern-after-wax",
            "no-drops-earlier",
            "no-drops-lately",
            "no-drops-pain",
            "worse-after-care",
        ),
        date(2026, 11, 29),
    ),
    **dict.fromkeys(
        (
            "canal-blood",
            "canal-bleeds",
            "facial-weakness-with-loss",
            "facial-weakness-old",
            "sudden-loss-old",
            "wax-found-again",
            "wax-left-part-twice",
            "wax-left-part-felt-twice",
            "wax-left-part",
            "wax-left-part-felt",
            "canal-untreated-at-risk",
            "drops-first-found",
        ),
        date(2026, 11, 30),
    ),
    **dict.fromkeys(
        (
            "loss-child-refer",
            "acute-infection-hearing",
            "wax-waits",
            "concern-sudden",
            "red-fluid-pain-child",
            "canal-risk-runs-pain",
            "no-drops-trace",
            "head-injury-clear-late",
            "blood-found-old-injury",
            "concern-child-still",
            "running-cavity-vertigo",
            "running-hole-vertigo",
            "fresh-hole-vertigo",
            "hurt-by-care-vertigo",
            "dizzy-with-hole-advice",
            "facial-weakness-disease",
            "facial-weakness-canal",
            "facial-weakness-discharge",
            "blocked-feeling-sudden",
            "blocked-feeling-new",
            "blocked-feeling-long",
            "loss-adult-offer",
            "loss-child-concern",
            "loss-child-severe",
            "acute-not-better",
            "acute-treated-long",
            "acute-pain-long",
            "pus-not-better",
            "blood-lasts",
            "own-injury-advice",
            "canal-untreated-again",
            "tensa-two-adult-stable",
            "tensa-two-young-stable",
            "tensa-three-adult-stable",
            "fluid-over-forty-stays",
            "barotrauma-hearing",
            "barotrauma-test",
            "dizzy-worse-call",
            "dizzy-worse-advice",
            "concern-known-loss",
            "concern-high-tones",
            "high-tones-after-suction",
            "object-ill",
            "object-pain",
            "keratin-plug-hides",
            "drop-after-suction",
            "vertigo-triad",
            "tinnitus-difference",
            "vertigo-injured-hole",
            "vertigo-before-hole",
            "concern-known-high-tones",
            "tensa-drop-after-suction",
            "attic-drop-after-suction",
            "hole-drop-after-suction",
            "pus-treated-long",
            "sudden-loss-back",
            "canal-risk-pain-lasts",
            "canal-risk-not-better",
            "canal-frail-pain-lasts",
            "canal-frail-not-better",
            "canal-frail-hidden-lasts",
            "canal-hidden-at-risk",
            "canal-hidden-frail",
            "sudden-loss-one-tone",
            "concern-one-tone",
            "one-tone-after-suction",
            "fluid-origin-untested",
            "fluid-after-radiotherapy",
            "bullae-hearing",
            "only-ear-cleared",
            "hole-injured-open",
            "object-stays",
            "object-child-hidden",
            "grommet-never-tested",
            "grommet-not-tested-here",
        ),
        date(2026, 12, 1),
    ),
}
"""Rules that were added to a protocol in use, with the day of their first version: no version
may judge visits before its adoption. Written by hand, for each is a decision."""
NAMES = [r.id if r.version == 1 else f"{r.id}-{r.version}" for r in RULES]


@cache
def fired_by_case() -> tuple[tuple[RuleCase, frozenset[tuple[str, int]]], ...]:
    """Return each case with the rules, in their versions, that match at its last visit."""
    return tuple((case, versions_fired(state_of(case))) for case in all_cases())


def coverage() -> Iterator[tuple[Rule, int]]:
    """Yield each rule with the number of cases that fire it."""
    for rule in RULES:
        yield rule, sum((rule.id, rule.version) in rules for _, rules in fired_by_case())


def _protocol_of(rule: Rule, case: RuleCase) -> Protocol:
    """Return the default protocol with one rule only; and, of advice beside an emergency, those."""
    whole, beside = load(), list[Rule]()
    if isinstance(rule.ask, Advise) and rule.ask.in_emergency:
        others = fired(state_of(case)) - {rule.id}
        beside = [other for other in RULES if other.id in others]
    rules = (rule, *beside)
    return Protocol(msgspec.structs.replace(whole.file, rule=rules), whole.contact, "-", False)


@pytest.mark.parametrize("rule", RULES, ids=NAMES)
def test_some_case_fires_the_rule_from_its_first_day_on_and_never_before(rule: Rule) -> None:
    cases = [case for case, rules in fired_by_case() if (rule.id, rule.version) in rules]
    assert cases, f"no case fires version {rule.version} of {rule.id}"

    case = cases[0]
    today = max(v.on for v in case.case().visits if v.on <= case.on)
    for since, matches in ((today, True), (today + timedelta(days=1), False)):
        moved = _protocol_of(msgspec.structs.replace(rule, since=since, until=None), case)
        assert (rule.id in fired(state_of(case, moved))) is matches


@pytest.mark.parametrize("rule", RULES, ids=NAMES)
def test_some_case_does_not_fire_the_rule_where_it_should_not(rule: Rule) -> None:
    """A "no" that a person wrote down: a case names the rule in its `not`."""
    told = [case for case in all_cases() if rule.id in case.expect.get("not", [])]
    assert told, f"no case says that {rule.id} does not match"


def test_every_rule_starts_early_enough_for_a_first_import_to_find_its_backlog() -> None:
    """A changed rule goes on where the version before it ended, without a day between."""
    first = {rule.id: rule for rule in RULES if rule.version == 1}

    assert {rule.id for rule in RULES} == set(first)
    assert {r.id: r.since for r in first.values() if r.since != STARTS} == LATER
    for before, after in pairwise(versions(RULES)):
        if before.id == after.id:
            assert (after.version, after.since) == (before.version + 1, before.until)


def test_what_is_common_practice_says_so_to_the_reader() -> None:
    for rule in RULES:
        if rule.known_by == "CP":
            assert "common practice" in rule.source or "no published interval" in rule.source
        if "interval common practice" in rule.source or "window common practice" in rule.source:
            assert rule.known_by == "CP", f"{rule.id} has no published interval"


def test_left_out_values_are_values_that_can_be_recorded() -> None:
    known = {f"{v.namespace}.{v.word} = {v.wanted[0].removesuffix(' or worse')}" for v in values()}

    for row in load().file.left_out:
        assert set(row.words) <= known


def test_no_withdrawn_guideline_is_named_before_one_that_stands() -> None:
    """Read by hand: NICE withdrew CG60 when NG233 came (2023); AAO-HNSF 2016 and NG233 stand."""
    standing = ("NG233", "AAO-HNSF", "hweclinicalguidance")
    for rule in RULES:
        before, gone, after = rule.source.partition("(2008, withdrawn")
        if gone and rule.until is None:
            assert any(one in before for one in standing), rule.id
            assert not any(one in after for one in standing), rule.id
