"""A protocol as a table to read: each part of a rule in words, laid out by hand here."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from recall.protocol.showing import rows, say_ask, say_known, text
from tests.protocol.test_checking import RULE, protocol

WINDOW = {"earliest": "1 week", "target": "2 weeks", "latest": "3 weeks"}
CYCLE = {"quantile": 0.5, "no_sooner": "2 months", "no_later": "9 months"}
LOOK = "otoscopy: 6 months (5 months to 7 months)"


def asks(**more: Any) -> dict[str, Any]:
    return {"ask": {**RULE["ask"], **more}}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({}, LOOK),
        (
            asks(do=["otoscopy", "hearing_test"]),
            "otoscopy, hearing test: 6 months (5 months to 7 months)",
        ),
        (
            asks(**{"from": "last_hearing_test", "never": WINDOW}),
            f"{LOOK} from last hearing test; never yet: 2 weeks (1 week to 3 weeks)",
        ),
        (asks(cycle=CYCLE), f"{LOOK}; then the person's own cycle, 2 months to 9 months"),
        ({"ask": {"kind": "refer", "to": "ent"}, "category": "refer"}, "refer to ENT"),
        (
            {
                "ask": {"kind": "refer", "to": "paediatric_audiology", "sent": "1 day",
                        "result": "6 weeks"},
                "category": "refer",
            },
            "refer to child audiology: sent in 1 day, result in 6 weeks",
        ),
        ({"ask": {"kind": "advise"}, "category": "come_back_if"}, "tell the person"),
        (
            {"ask": {"kind": "advise", "alone": True}, "category": "come_back_if"},
            "tell the person, where nothing else is asked",
        ),
    ],
)  # fmt: skip
def test_what_a_rule_asks_is_one_line(tmp_path: Path, change: dict[str, Any], says: str) -> None:
    (rule,) = protocol(tmp_path, change).rules

    assert say_ask(rule) == says


@pytest.mark.parametrize(
    ("known_by", "says"),
    [
        ("R", "read in the source"),
        ("R2", "as quoted by others"),
        ("C", "computed"),
        ("CP", "practice protocol, no published interval"),
        ("M-hi", "from memory, to be checked"),
    ],
)
def test_how_a_rule_is_known_is_said_in_words(known_by: str, says: str) -> None:
    assert say_known(known_by) == says


FULL = {
    "version": 2,
    "until": "2030-01-01",
    "when": {
        "ear": {"tensa_grade": "2 or worse", "keratin": True},
        "other": {"tensa_grade": "3 or worse"},
        "person": {"risk": ["autism", "dementia"]},
    },
    "unless": {"ear": {"red": True}},
    "unless_because": "invented",
    "says_aloud": "We would like to look again.",
    "known_by": "R",
    "known_by_age": [{"age": "16 or more", "known_by": "CP"}],
}


def test_a_row_holds_every_part_of_a_rule_in_words(tmp_path: Path) -> None:
    (row,) = rows(protocol(tmp_path, FULL))

    assert vars(row) == {
        "rule": "one",
        "version": 2,
        "since": "2020-01-01",
        "until": "2030-01-01",
        "track": "retraction",
        "category": "retraction watch",
        "when": "tensa grade 2 or worse; keratin recorded; other ear: tensa grade 3 or worse; "
        "risk autism or dementia",
        "unless": "red recorded (invented)",
        "asks": LOOK,
        "urgency": "medium",
        "says": "Looked at again.",
        "says_aloud": "We would like to look again.",
        "source": "invented for this test",
        "known": "read in the source; at 16 or more: practice protocol, no published interval",
    }


def test_a_row_leaves_empty_what_a_rule_does_not_say(tmp_path: Path) -> None:
    advice = {"ask": {"kind": "advise"}, "category": "come_back_if", "urgency": None}

    (row,) = rows(protocol(tmp_path, advice))

    assert (row.until, row.unless, row.urgency, row.says_aloud) == ("", "", "", "")


def test_on_a_terminal_each_track_has_a_heading_and_each_rule_its_lines(tmp_path: Path) -> None:
    found = protocol(
        tmp_path, {}, {"id": "two"}, {"id": "three", "track": "hearing", "urgency": "high"}
    )

    shown = list(text(found))

    assert shown[0].startswith(f"Protocol {found.name} {found.version}: 3 rules, NOT signed off")
    assert shown[1] == f"Content {found.digest[:12]}"
    assert [line for line in shown if line.isupper()] == ["RETRACTION", "HEARING"]
    assert shown[2:10] == [
        "",
        "RETRACTION",
        "",
        "  one (version 1) medium",
        "    when     tensa grade 2 or worse",
        f"    asks     {LOOK}",
        "    says     Looked at again.",
        "    source   invented for this test [practice protocol, no published interval]",
    ]


@pytest.mark.parametrize(
    ("change", "head"),
    [
        ({}, "  one (version 1) medium"),
        ({"version": 2}, "  one (version 2, from 2020-01-01) medium"),
        (
            {"until": "2030-01-01"},
            "  one (version 1, from 2020-01-01, until 2030-01-01) medium",
        ),
        (
            {"ask": {"kind": "advise"}, "category": "come_back_if", "urgency": None},
            "  one (version 1)",
        ),
    ],
)
def test_the_days_of_a_rule_are_shown_once_it_has_changed(
    tmp_path: Path, change: dict[str, Any], head: str
) -> None:
    assert head in list(text(protocol(tmp_path, change)))


def test_long_lines_are_folded_under_their_words_and_no_wider_than_asked(tmp_path: Path) -> None:
    said = "Looked at again, and " + "again, and " * 12 + "then no more."

    shown = list(text(protocol(tmp_path, {"says": said}), width=50))
    start = next(n for n, line in enumerate(shown) if line.startswith("    says     "))
    folded = shown[start : next(n for n, line in enumerate(shown) if "source" in line)]

    assert max(len(line) for line in folded) <= 50
    assert all(line.startswith(" " * 13 + "a") for line in folded[1:])
    assert " ".join(line[13:] for line in folded) == said
