"""What the boxes prove of a protocol, on the default one and on small broken ones."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import msgspec
import pytest

from recall.errors import ProtocolError
from recall.protocol.checking import check
from recall.protocol.loading import Protocol, load
from recall.protocol.words import SIGNS_ALONE

HEAD = (files("recall.protocol") / "default.toml").read_text("utf-8").partition("[[rule]]")[0]
RULE: dict[str, Any] = {
    "id": "one",
    "version": 1,
    "since": "2020-01-01",
    "category": "retraction_watch",
    "track": "retraction",
    "when": {"ear": {"tensa_grade": "2 or worse"}},
    "ask": {
        "kind": "recheck",
        "do": ["otoscopy"],
        "earliest": "5 months",
        "target": "6 months",
        "latest": "7 months",
    },
    "urgency": "medium",
    "says": "Looked at again.",
    "source": "invented for this test",
    "known_by": "CP",
}


def protocol(tmp_path: Path, *changes: dict[str, Any]) -> Protocol:
    """Return a protocol of rules that differ from `RULE` as said; None leaves a field out."""
    raw = tomllib.loads(HEAD)
    raw.pop("left_out", None)
    rules = [{**RULE, **change} for change in changes]
    raw["rule"] = [{k: v for k, v in rule.items() if v is not None} for rule in rules]
    path = tmp_path / "own.toml"
    path.write_bytes(msgspec.toml.encode(raw))
    return load(path)


def said(found: Protocol, kind: str) -> list[str]:
    return [r.rule for r in check(found) if r.kind == kind]


def test_the_default_protocol_has_no_fault() -> None:
    faults = [(r.kind, r.rule, r.says) for r in check(load()) if r.is_fault]

    assert faults == []


def test_a_rule_with_an_empty_range_is_unreachable(tmp_path: Path) -> None:
    when = {"ear": {"tensa_grade": "2 or worse"}, "person": {"age": "16 to 5"}}

    assert said(protocol(tmp_path, {"when": when}), "unreachable") == ["one"]


def test_a_rule_that_needs_what_blocks_it_is_unreachable(tmp_path: Path) -> None:
    found = protocol(
        tmp_path,
        {
            "when": {"ear": {"keratin": True}},
            "unless": {"ear": {"keratin": True}},
            "unless_because": "a mistake",
        },
    )

    assert said(found, "unreachable") == ["one"]


def test_a_rule_inside_a_stricter_one_never_wins(tmp_path: Path) -> None:
    later = {**RULE["ask"], "target": "7 months", "latest": "8 months"}
    when = {"ear": {"tensa_grade": "3 or worse"}, "person": {"age": "under 16"}}
    found = protocol(tmp_path, {}, {"id": "two", "when": when, "ask": later})

    assert said(found, "never wins") == ["two"]


def test_a_rule_inside_a_stricter_one_that_wants_more_done_is_kept(tmp_path: Path) -> None:
    more = {**RULE["ask"], "do": ["otoscopy", "hearing_test"]}
    when = {"ear": {"tensa_grade": "3 or worse"}}
    found = protocol(tmp_path, {}, {"id": "two", "when": when, "ask": more})

    assert said(found, "never wins") == []


def test_of_two_twins_only_one_is_named(tmp_path: Path) -> None:
    assert said(protocol(tmp_path, {}, {"id": "two"}), "never wins") == ["two"]


def test_of_two_with_one_condition_the_one_that_asks_for_less_is_named(tmp_path: Path) -> None:
    later = {**RULE["ask"], "latest": "8 months"}

    assert said(protocol(tmp_path, {"ask": later}, {"id": "two"}), "never wins") == ["one"]


def test_a_finding_that_no_rule_answers_is_named(tmp_path: Path) -> None:
    says = [r.says for r in check(protocol(tmp_path, {})) if r.kind == "unanswered"]

    assert "No rule answers ear.keratin = true, and it is not left out." in says
    assert not [s for s in says if "tensa_grade = 3" in s]
    assert [s for s in says if "tensa_grade = 1" in s]


def test_every_unless_is_listed_with_its_reason(tmp_path: Path) -> None:
    unless = {"ear": {"grommet_long_term": True}}
    found = protocol(tmp_path, {"unless": unless, "unless_because": "Meant to stay in."})

    assert said(found, "unless") == ["one"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"source": " "}, "Rule one has no source"),
        ({"says": ""}, "Rule one has no says"),
        ({"when": {"ear": {"colour": True}}}, "there is no such word"),
        ({"when": {"ear": {"keratin": False}}}, "only `true` can be asked for"),
        ({"when": {"ear": {"effusion": "absent"}}}, "normal value"),
        ({"when": {"ear": {"tensa_grade": "2"}}}, "or worse"),
        ({"when": {"ear": {"perforation": ["none"]}}}, "is not one of"),
        ({"unless": {"ear": {"keratin": True}}}, "needs its reason"),
        ({"ask": {**RULE["ask"], "latest": "1 month"}}, "runs backwards"),
        ({"ask": {**RULE["ask"], "from": "last_hearing_test"}}, "may not be recorded"),
        ({"when": {}}, "no condition"),
        ({"urgency": "soon"}, "rule one"),
    ],
)
def test_a_rule_that_cannot_be_meant_does_not_load(
    tmp_path: Path, change: dict[str, Any], words: str
) -> None:
    with pytest.raises(ProtocolError, match=words):
        protocol(tmp_path, change)


def unanswered(tmp_path: Path, when: dict[str, Any], **more: Any) -> set[str]:
    """Return the values of an ear that a protocol of one rule leaves without an answer."""
    found = protocol(tmp_path, {"when": when, **more})
    told = [r.says for r in check(found) if r.kind == "unanswered"]
    names = {says.removeprefix("No rule answers ").partition(",")[0] for says in told}
    return {name for name in names if name.startswith("ear.")}


@pytest.mark.parametrize(
    ("sign", "answered"),
    [
        (
            "drum_changed",
            {"effusion = suspected", "effusion = present", "red = true", "bulging = true",
             "mass_behind_drum = white", "mass_behind_drum = red", "blood_behind_drum = true"},
        ),
        ("disease_sign", {"attic_grade = 3", "attic_grade = 4", "scutum_erosion = true",
                          "attic_crust = true", "granulation = true", "polyp = true",
                          "keratin = true", "perforation = marginal", "perforation = attic"}),
        ("acute_infection", {"bulging = true", "bullae = true"}),
        ("base_unseen", {"base_unseen = true"}),
        ("hearing_back", set()),
    ],
)  # fmt: skip
def test_a_sign_answers_every_finding_that_makes_it(
    tmp_path: Path, sign: str, answered: set[str]
) -> None:
    other = unanswered(tmp_path, {"person": {"age": "under 16"}})

    left = unanswered(tmp_path, {"ear": {sign: True}})

    assert other - left == {f"ear.{name}" for name in answered}


def test_a_finding_by_which_a_rule_holds_back_is_answered_too(tmp_path: Path) -> None:
    when = {"person": {"age": "under 16"}}
    back = {"unless": {"ear": {"keratin": True}}, "unless_because": "invented"}

    assert unanswered(tmp_path, when) - unanswered(tmp_path, when, **back) == {"ear.keratin = true"}


def test_signs_stand_alone_where_no_other_word_asks_for_the_value() -> None:
    assert set(SIGNS_ALONE) >= {"could_not_examine", "clearance_failed", "attic_unseen"}
    assert not set(SIGNS_ALONE) & {"drum_unseen", "cleared", "hearing_back", "drum_changed"}


def test_each_remark_stands_once_and_what_to_mend_at_the_end(tmp_path: Path) -> None:
    sound, lacking = check(load()), check(protocol(tmp_path, {}))

    assert len(set(sound)) == len(sound)
    faults = [remark.is_fault for remark in lacking]
    assert faults == sorted(faults) and faults[-1]
