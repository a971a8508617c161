"""The page on how a protocol is written: its parts, and a line for every kind of word."""

from __future__ import annotations

from recall.protocol.manual import manual

PAGE = manual().splitlines()


def test_the_page_has_its_parts_in_order() -> None:
    assert [line for line in PAGE if line.startswith("#") and "[[" not in line] == [
        "# How a protocol is written",
        "## What a rule can ask",
        "## Lists",
        "## Words a condition may use",
    ]


def test_each_thing_a_rule_can_ask_is_said() -> None:
    for kind in ("recheck", "refer", "advise"):
        assert [line for line in PAGE if line.startswith(f'- `kind = "{kind}"`: ')]


def test_every_kind_of_word_has_its_line() -> None:
    for line in (
        "| `tensa_grade` | scale | 1, 2, 3, 4: `or worse` |",
        '| `hearing_loss` | scale | dB: `"25 dB or worse"` |',
        "| `trace_of_fluid` | flag | `true`: a trace read as flat fluid |",
        "| `person.age` | range | age in whole years on the day of the visit |",
        "| `course.hearing_tested` | range | time since the last hearing test |",
    ):
        assert line in PAGE
    for word in ("`person.risk`", "`report.said`, `report.also`"):
        assert [line for line in PAGE if line.startswith(f"| {word} | flag | any of ")]
