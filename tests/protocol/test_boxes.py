"""When one rule adds nothing to another: each thing that decides it, changed one at a time.

The wide rule asks at tensa grade 2 or worse, the narrow one at 3 or worse for the same and so
"never wins"; each row changes one of the two and says whether that still holds.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from recall.errors import ProtocolError
from recall.protocol.boxes import follows, inside, is_empty
from recall.protocol.lines import read_line
from recall.protocol.spans import read_range
from tests.protocol.test_checking import RULE, protocol, said

LATER = {"earliest": "7 months", "target": "8 months", "latest": "9 months"}
SOONER = {"earliest": "3 months", "target": "4 months", "latest": "5 months"}
NARROW = {"id": "two", "when": {"ear": {"tensa_grade": "3 or worse"}}}
REFER: dict[str, Any] = {
    "category": "refer",
    "urgency": "high",
    "ask": {"kind": "refer", "to": "ent"},
}
SPAN = {"earliest": "1 week", "target": "2 weeks", "latest": "4 weeks"}
NOW = {"earliest": "1 day", "target": "1 week", "latest": "2 weeks"}
UNLESS = {"unless": {"ear": {"keratin": True}}, "unless_because": "invented"}


def asks(**more: Any) -> dict[str, Any]:
    return {"ask": {**RULE["ask"], **more}}


def refer(**more: Any) -> dict[str, Any]:
    return {**REFER, "ask": {**REFER["ask"], **more}}


def from_test(never: dict[str, str] | None) -> dict[str, Any]:
    return asks(**{"from": "last_hearing_test"}, **({"never": never} if never else {}))


WHEN_TESTED = {"course": {"hearing_tested": "under 12 months"}}
KNOWN = {"when": {"ear": {"tensa_grade": "2 or worse"}, **WHEN_TESTED}, **from_test(None)}
NARROWER = {"when": {"ear": {"tensa_grade": "3 or worse"}, **WHEN_TESTED}}
ADDS_NOTHING: tuple[tuple[str, dict[str, Any], dict[str, Any]], ...] = (
    ("the same for less", {}, {}),
    ("a later latest", {}, asks(**LATER)),
    ("a lower urgency", {}, {"urgency": "low"}),
    ("less to do", asks(do=["otoscopy", "hearing_test"]), {}),
    ("fewer needs", asks(needs=["tensa", "attic"]), asks(needs=["tensa"])),
    ("from a later day on", {}, {"since": "2021-01-01"}),
    ("until an earlier day", {"until": "2030-01-01"}, {"until": "2029-12-31"}),
    ("until the same day", {"until": "2030-01-01"}, {"until": "2030-01-01"}),
    ("until a day, the other for good", {}, {"until": "2029-12-31"}),
    ("blocked by the same", UNLESS, UNLESS),
    ("blocked by more", {}, UNLESS),
    ("the same from another anchor", from_test(SPAN), from_test(SPAN)),
    ("later where never tested", from_test(NOW), from_test(SPAN)),
    ("one referral like the other", REFER, REFER),
    ("a referral with a later stage", refer(seen="1 week"), refer(seen="2 weeks")),
)
ADDS_SOMETHING: tuple[tuple[str, dict[str, Any], dict[str, Any]], ...] = (
    ("an earlier latest", {}, asks(**SOONER)),
    ("a higher urgency", {}, {"urgency": "high"}),
    ("more to do", {}, asks(do=["otoscopy", "hearing_test"])),
    ("more needs", asks(needs=["tensa"]), asks(needs=["tensa", "attic"])),
    ("another track", {}, {"track": "hearing"}),
    ("another anchor", {}, from_test(SPAN)),
    ("from an earlier day on", {}, {"since": "2019-12-31"}),
    ("until a later day", {"until": "2030-01-01"}, {"until": "2030-01-02"}),
    ("for good, the other until a day", {"until": "2030-01-01"}, {}),
    ("the other blocked", UNLESS, {}),
    ("the other blocked by something else", UNLESS, {**UNLESS, "unless": {"ear": {"red": True}}}),
    ("sooner where never tested", from_test(SPAN), from_test(NOW)),
    ("sooner on some days of the year", {}, asks(latest="213 days")),
    ("a window where never tested", KNOWN, {**KNOWN, **from_test(SPAN), **NARROWER}),
    ("none where never tested", {**KNOWN, **from_test(SPAN)}, {**KNOWN, **NARROWER}),
    (
        "the person's own cycle",
        {},
        asks(cycle={"quantile": 0.5, "no_sooner": "2 months", "no_later": "9 months"}),
    ),
    ("a referral beside a look", {}, {**REFER, "urgency": "medium"}),
    ("a look beside a referral", REFER, {"urgency": "high"}),
    ("a referral elsewhere", REFER, refer(to="gp")),
    ("a referral for another track", REFER, {**REFER, "track": "hearing"}),
    ("a referral with an earlier first stage", refer(sent="1 week"), refer(sent="1 day")),
    ("a referral seen earlier", refer(seen="2 weeks"), refer(seen="1 week")),
    ("a referral with an earlier result", refer(result="9 weeks"), refer(result="8 weeks")),
    ("a referral accepted earlier", refer(accepted="1 week"), refer(accepted="1 day")),
)


@pytest.mark.parametrize(
    ("wide", "narrow"), [row[1:] for row in ADDS_NOTHING], ids=[row[0] for row in ADDS_NOTHING]
)
def test_a_rule_that_adds_nothing_is_named(
    tmp_path: Path, wide: dict[str, Any], narrow: dict[str, Any]
) -> None:
    assert said(protocol(tmp_path, wide, {**NARROW, **narrow}), "never wins") == ["two"]


@pytest.mark.parametrize(
    ("wide", "narrow"), [row[1:] for row in ADDS_SOMETHING], ids=[row[0] for row in ADDS_SOMETHING]
)
def test_a_rule_that_adds_something_is_kept(
    tmp_path: Path, wide: dict[str, Any], narrow: dict[str, Any]
) -> None:
    assert said(protocol(tmp_path, wide, {**NARROW, **narrow}), "never wins") == []


@pytest.mark.parametrize(
    ("wide", "narrow", "never_wins"),
    [
        ({"person": {"age": "under 16"}}, {"person": {"age": "under 12"}}, True),
        ({"person": {"age": "under 12"}}, {"person": {"age": "under 16"}}, False),
        ({"person": {"risk": ["autism", "dementia"]}}, {"person": {"risk": ["autism"]}}, True),
        ({"person": {"risk": ["autism"]}}, {"person": {"risk": ["autism", "dementia"]}}, False),
        ({"ear": {"tensa_grade": "3 or worse"}}, {"ear": {"tensa_grade": "2 or worse"}}, False),
        ({"ear": {"attic_grade": "2 or worse"}}, {"ear": {"tensa_grade": "2 or worse"}}, False),
        ({"ear": {"attic_grade": "2 or worse"}}, {"other": {"attic_grade": "2 or worse"}}, False),
        ({"ear": {"red": True}}, {"ear": {"red": True, "keratin": True}}, True),
        ({"ear": {"red": True, "keratin": True}}, {"ear": {"red": True}}, False),
    ],
)
def test_only_a_rule_inside_another_can_add_nothing(
    tmp_path: Path, wide: dict[str, Any], narrow: dict[str, Any], never_wins: bool
) -> None:
    found = protocol(tmp_path, {"when": wide}, {"id": "two", "when": narrow, **asks(**LATER)})

    assert said(found, "never wins") == (["two"] if never_wins else [])


def test_of_advice_none_is_named(tmp_path: Path) -> None:
    advice = {"ask": {"kind": "advise"}, "category": "come_back_if"}

    assert said(protocol(tmp_path, advice, {**NARROW, **advice}), "never wins") == []


@pytest.mark.parametrize(
    ("small", "large", "lies_in"),
    [
        ("under 12 weeks", "under 12 weeks", True),
        ("under 11 weeks", "under 12 weeks", True),
        ("under 12 weeks", "under 11 weeks", False),
        ("12 weeks or more", "11 weeks or more", True),
        ("11 weeks or more", "12 weeks or more", False),
        ("12 weeks or more", "under 12 weeks", False),
        ("4 to 90 days", "4 days or more", True),
        ("4 days or more", "4 to 90 days", False),
        ("4 to 90 days", "within 90 days", True),
        ("within 90 days", "4 to 90 days", False),
        ("2 or more", "2 days or more", False),
        ("under 3 months", "under 12 weeks", False),
        ("4 to 90 days", "4 to 90 days or never", True),
        ("4 to 90 days or never", "4 to 90 days", False),
        ("4 to 90 days or never", "4 to 90 days or never", True),
    ],
)
def test_one_range_lies_in_another(small: str, large: str, lies_in: bool) -> None:
    assert inside(read_range(small), read_range(large)) is lies_in


@pytest.mark.parametrize(
    ("text", "empty"),
    [
        ("5 to 4", True),
        ("16 to 5", True),
        ("5 to 5", False),
        ("exactly 5", False),
        ("under 5", False),
        ("5 or more", False),
        ("under 0", False),
    ],
)
def test_nothing_lies_in_a_range_that_ends_before_it_starts(text: str, empty: bool) -> None:
    assert is_empty(read_range(text)) is empty


@pytest.mark.parametrize("kind", ["recheck", "refer"])
def test_what_asks_for_something_has_an_urgency(tmp_path: Path, kind: str) -> None:
    change = {} if kind == "recheck" else {"category": "refer", "ask": REFER["ask"]}

    with pytest.raises(ProtocolError, match="Rule one has no urgency"):
        protocol(tmp_path, {**change, "urgency": None})


def test_advice_needs_no_urgency(tmp_path: Path) -> None:
    advice = {"ask": {"kind": "advise"}, "category": "come_back_if", "urgency": None}

    (rule,) = protocol(tmp_path, advice).rules
    assert (rule.urgency, rule.since) == (None, date(2020, 1, 1))


@pytest.mark.parametrize(
    ("wide", "narrow", "holds"),
    [(0, 0, True), (0, 1, True), (1, 0, False), (20, 25, True), (25, 20, False), (25, 25, True)],
)
def test_a_level_holds_wherever_a_worse_one_does(wide: int, narrow: int, holds: bool) -> None:
    lines = (read_line("r", "ear", "hearing_loss", f"{dB} dB or worse") for dB in (wide, narrow))

    assert follows(*lines) is holds


def test_lines_of_two_words_or_of_two_ears_never_follow_from_each_other() -> None:
    said = [
        read_line("r", namespace, word, "2 or worse")
        for namespace in ("ear", "other")
        for word in ("tensa_grade", "attic_grade")
    ]

    for one in said:
        assert [follows(one, other) for other in said] == [one == other for other in said]
