"""Every one-step change of a rule is refused on loading or noticed by a case that names it.

What no case can notice stands in `unnoticed_changes.toml`, reviewed, each with its reason; a
line that has come to be noticed must leave it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import msgspec
import pytest

from recall.errors import ProtocolError
from recall.protocol.loading import Protocol, load
from recall.protocol.rules import Rule
from tests.protocol.case_files import RuleCase, all_cases, fired, state_of
from tests.protocol.expectations import notices, rules_named
from tests.protocol.rule_changes import Raw, changes

LISTED = Path(__file__).with_name("unnoticed_changes.toml")
ALL: tuple[Raw, ...] = tuple(
    tomllib.loads((files("recall.protocol") / "default.toml").read_text("utf-8"))["rule"]
)
RAW = tuple(raw for raw in ALL if "until" not in raw)
"""The rules in force; a version that has ended is history."""
IDS = sorted({raw["id"] for raw in RAW})
NAMES = [raw["id"] if raw["version"] == 1 else f"{raw['id']}-{raw['version']}" for raw in RAW]


@cache
def _cases_naming() -> dict[str, list[RuleCase]]:
    found: dict[str, list[RuleCase]] = {name: [] for name in IDS}
    for case in all_cases():
        for name in rules_named(case) & set(IDS):
            found[name].append(case)
    return found


@cache
def _fired_on_the_way(case: RuleCase) -> frozenset[str]:
    """Return the rules that match at any visit of a case."""
    days = {visit.on for visit in case.case().visits if visit.on <= case.on} | {case.on}
    return frozenset().union(*(fired(state_of(case, on=day)) for day in days))


def _protocol(rules: Iterable[Rule]) -> Protocol:
    """Return the default protocol with some of its rules: quick to make."""
    whole = load()
    file = msgspec.structs.replace(whole.file, rule=tuple(rules))
    return Protocol(file, whole.contact, "-", False)


@cache
def reviewed() -> dict[str, dict[str, str]]:
    """Return the listed changes of each rule with their reasons."""
    rows: list[dict[str, Any]] = tomllib.loads(LISTED.read_text("utf-8"))["unnoticed"]
    found: dict[str, dict[str, str]] = {}
    for row in rows:
        for change in row["changes"]:
            for rule in row["rules"]:
                found.setdefault(rule, {})[change] = row["because"]
    return found


def shared(raw: Any, made: Any, other: Any) -> Any:
    """Return another version of a rule with a change made where it says the same.

    A line that a new version took over unchanged is held by the cases of the one before.
    """
    if other == raw:
        return made
    if not isinstance(other, dict) or not isinstance(raw, dict) or not isinstance(made, dict):
        return other
    kept = {
        key: shared(raw.get(key), made.get(key), value)
        for key, value in other.items()
        if key in made or value != raw.get(key)
    }
    return {**kept, **{key: value for key, value in made.items() if key not in raw}}


def unnoticed(raw: Raw) -> set[str]:
    """Return the changes of one rule that load and that no case naming it notices."""
    cases = _cases_naming()[raw["id"]]
    near = {raw["id"]}.union(*(_fired_on_the_way(case) for case in cases))
    others = [rule for rule in load().rules if rule.id in near and rule.id != raw["id"]]
    own = [rule for rule in load().rules if rule.id == raw["id"]]
    versions = [other for other in ALL if other["id"] == raw["id"]]
    as_it_is = _protocol([*others, *own])
    assert not any(notices(case, as_it_is) for case in cases)
    gone = _protocol(others)
    left = set() if any(notices(case, gone) for case in cases) else {"the whole rule"}
    for change, made in changes(raw):
        written = [made if other is raw else shared(raw, made, other) for other in versions]
        try:
            changed = _protocol([*others, *(msgspec.convert(one, Rule) for one in written)])
        except (ProtocolError, msgspec.ValidationError):
            continue
        if not any(notices(case, changed) for case in cases):
            left.add(change)
    return left


@pytest.mark.parametrize("raw", RAW, ids=NAMES)
def test_every_one_step_change_of_a_rule_is_noticed(raw: Raw) -> None:
    assert unnoticed(raw) == set(reviewed().get(raw["id"], {}))


def test_the_reviewed_list_speaks_of_rules_and_gives_reasons() -> None:
    assert set(reviewed()) <= set(IDS)
    assert all(because.strip() for row in reviewed().values() for because in row.values())
