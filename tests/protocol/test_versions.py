"""A rule changed as the manual says: the old version with its last day, the new one from then on.

Windows worked out by hand, counted from the visit; the lengths of time are invented here.
"""

from __future__ import annotations

import tomllib
from datetime import date, timedelta
from importlib.resources import files
from pathlib import Path
from typing import Any

import msgspec
import pytest

from recall.care.case import Case, Visit
from recall.care.ear import Ear
from recall.errors import ProtocolError
from recall.protocol.checking import check
from recall.protocol.comparing import compare, edited_in_place
from recall.protocol.loading import DEFAULT, Protocol, content_of, from_content, load
from recall.protocol.showing import text
from recall.schedule.fold import folding
from tests.protocol.case_files import versions_fired
from tests.protocol.test_checking import RULE, protocol

CHANGED_ON = date(2026, 12, 1)
SOONER = {**RULE["ask"], "earliest": "3 months", "target": "4 months", "latest": "5 months"}
OLD = {"until": CHANGED_ON.isoformat()}
NEW = {"version": 2, "since": CHANGED_ON.isoformat(), "ask": SOONER}


@pytest.fixture
def changed(tmp_path: Path) -> Protocol:
    return protocol(tmp_path, OLD, NEW)


def seen_on(on: date) -> Case:
    ear = Ear(drum_seen="full", tensa_grade=2)
    return Case(born=date(1990, 1, 1), visits=(Visit(on=on, right=ear),))


@pytest.mark.parametrize(
    ("on", "version", "window"),
    [
        (date(2026, 11, 30), 1, (date(2027, 4, 30), date(2027, 5, 30), date(2027, 6, 30))),
        (date(2026, 12, 1), 2, (date(2027, 3, 1), date(2027, 4, 1), date(2027, 5, 1))),
    ],
)
def test_each_version_judges_the_visits_of_its_own_days(
    changed: Protocol, on: date, version: int, window: tuple[date, ...]
) -> None:
    state = folding(seen_on(on), changed, on)

    (due,) = state.open.values()
    assert versions_fired(state) == {("one", version)}
    assert (due.rule_version, (due.earliest, due.target, due.latest)) == (version, window)


def test_before_the_first_day_of_the_first_version_nothing_is_asked(changed: Protocol) -> None:
    on = date(2019, 12, 31)

    assert versions_fired(folding(seen_on(on), changed, on)) == frozenset()


def test_a_rule_with_a_last_day_alone_stops_on_that_day(tmp_path: Path) -> None:
    ended = protocol(tmp_path, OLD)
    fired = [
        versions_fired(folding(seen_on(day), ended, day))
        for day in (CHANGED_ON - timedelta(days=1), CHANGED_ON)
    ]

    assert fired == [{("one", 1)}, frozenset()]


def test_two_versions_are_no_fault_and_are_both_shown_with_their_days(changed: Protocol) -> None:
    faults = [r for r in check(changed) if r.is_fault and r.rule]
    lines = list(text(changed))

    assert faults == []
    assert "  one (version 1, from 2020-01-01, until 2026-12-01) medium" in lines
    assert "  one (version 2, from 2026-12-01) medium" in lines


def test_a_changed_rule_is_compared_in_words_and_is_no_change_in_place(
    tmp_path: Path, changed: Protocol
) -> None:
    before = protocol(tmp_path, {})

    assert edited_in_place(before, changed) == ()
    assert compare(before, changed) == (
        "Rule one (version 2) is new: Looked at again.",
        "Rule one (version 1) changes its last day: from nothing to 2026-12-01.",
    )


def test_both_versions_are_kept_in_the_register(changed: Protocol) -> None:
    again = from_content(content_of(changed))

    assert [(r.version, r.since, r.until) for r in again.rules] == [
        (1, date(2020, 1, 1), CHANGED_ON),
        (2, CHANGED_ON, None),
    ]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ({}, NEW, "versions 1 and 2 both judge visits from 2026-12-01 on"),
        ({"until": "2026-12-02"}, NEW, "versions 1 and 2 both judge visits from 2026-12-01 on"),
        (OLD, {**NEW, "version": 1}, "version 1 stands twice"),
        ({"until": "2020-01-01"}, NEW, "ends before it starts"),
    ],
)
def test_a_change_that_leaves_it_open_which_version_judges_does_not_load(
    tmp_path: Path, old: dict[str, Any], new: dict[str, Any], says: str
) -> None:
    with pytest.raises(ProtocolError, match=says):
        protocol(tmp_path, old, new)


def test_days_that_no_version_judges_are_a_fault(tmp_path: Path) -> None:
    found = check(protocol(tmp_path, {"until": "2026-11-01"}, NEW))

    assert [(r.rule, r.says) for r in found if r.kind == "gap"] == [
        ("one", "No version of it judges visits from 2026-11-01 until 2026-12-01.")
    ]
    assert all(r.is_fault for r in found if r.kind == "gap")


def test_the_shipped_protocol_takes_a_new_version_of_every_rule(tmp_path: Path) -> None:
    """Every rule in force is ended and goes on as its next version, in one file that loads."""
    raw = tomllib.loads((files("recall.protocol") / DEFAULT).read_text("utf-8"))
    standing = [rule for rule in raw["rule"] if "until" not in rule]
    day = max(rule["since"] for rule in raw["rule"]) + timedelta(days=400)
    more = [{**rule, "version": rule["version"] + 1, "since": day} for rule in standing]
    for rule in standing:
        rule["until"] = day
    raw["rule"] += more
    path = tmp_path / "changed.toml"
    path.write_bytes(msgspec.toml.encode(raw))

    again = load(path)

    assert [r for r in check(again) if r.is_fault] == []
    assert sum(c.in_force(day) for c in again.matcher.compiled) == len(standing)
