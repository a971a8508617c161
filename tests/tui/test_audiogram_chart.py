"""The hearing chart in text: which sign stands where, and how the test before is told apart."""

from __future__ import annotations

from datetime import date

import pytest
from textual.content import Content

from recall.care.audiogram import audiogram
from recall.care.case import Visit
from recall.care.ear import Ear, Side
from tui.widgets.audiogram_chart import audiogram_lines

BEFORE, NOW = date(2025, 9, 1), date(2026, 6, 1)
WIDTH = 63
"""Eight columns for each octave."""
AT_1000 = 5 + 8 * 3 + 4
"""Beside five columns of labels, the middle of the fourth octave's column, by hand."""


def drawn(side: Side, *visits: Visit) -> list[Content]:
    """Return the lines of one ear's chart: the axis, then -10 dB, 0 dB, 10 dB and so on."""
    return audiogram_lines(audiogram(visits), side, WIDTH)


def row(lines: list[Content], level: int) -> Content:
    """Return the line of a level, by its label."""
    return next(line for line in lines[1:] if line.plain.startswith(f"{level:>4} "))


def signs(line: Content) -> str:
    return "".join(c for c in line.plain[5:] if c not in " ·")


def style_at(line: Content, column: int) -> str:
    return " ".join(str(s.style) for s in line.spans if s.start <= column < s.end)


@pytest.mark.parametrize(("side", "shown", "air"), [("right", "<O", "O"), ("left", "X>", "X")])
def test_bone_stands_beside_the_sign_by_air_on_its_own_side(
    side: Side, shown: str, air: str
) -> None:
    """O and < for the right ear, X and > for the left (ISO 8253-1; ASHA 1990): from memory."""
    ear = Ear(hearing_dB={"1000": 40}, bone_dB={"1000": 40})
    visit = Visit(on=NOW, right=ear) if side == "right" else Visit(on=NOW, left=ear)

    line = row(drawn(side, visit), 40)

    assert signs(line) == shown
    assert line.plain.index(air) == AT_1000
    assert shown in line.plain


def test_each_sign_stands_on_the_line_of_its_level() -> None:
    ear = Ear(hearing_dB={"500": -10, "1000": 35, "2000": 120}, bone_dB={"1000": 10})
    lines = drawn("right", Visit(on=NOW, right=ear))

    assert {level: signs(row(lines, level)) for level in (-10, 10, 40, 120)} == {
        -10: "O",
        10: "<",
        40: "O",
        120: "O",
    }


def test_the_test_before_is_in_small_letters_and_quiet_without_its_bone() -> None:
    lines = drawn(
        "right",
        Visit(on=BEFORE, right=Ear(hearing_dB={"1000": 20}, bone_dB={"1000": 0})),
        Visit(on=NOW, right=Ear(hearing_dB={"1000": 60}, bone_dB={"1000": 50})),
    )

    old, new = row(lines, 20), row(lines, 60)
    assert (signs(old), signs(new), signs(row(lines, 0)), signs(row(lines, 50))) == (
        "o",
        "O",
        "",
        "<",
    )
    assert style_at(old, AT_1000) == "$desk-quiet"
    assert style_at(new, AT_1000) == "bold $desk-lead"
    said = [line.plain for line in lines[-4:]]
    assert [line for line in said if "bone" in line] == ["1 Jun 2026, bone: 1k 50"]
    assert [line for line in said if "air" in line] == [
        "1 Jun 2026, air: 1k 60",
        "1 Sep 2025, air: 1k 20",
    ]


def test_where_both_tests_have_one_level_the_newest_is_seen() -> None:
    lines = drawn(
        "left",
        Visit(on=BEFORE, left=Ear(hearing_dB={"1000": 40})),
        Visit(on=NOW, left=Ear(hearing_dB={"1000": 40})),
    )

    assert signs(row(lines, 40)) == "X"


def test_no_response_is_an_arrow_at_the_lower_edge() -> None:
    lines = drawn("left", Visit(on=NOW, left=Ear(hearing_dB={"1000": "nr"})))

    assert signs(row(lines, 120)) == "↓"
    assert lines[-1].plain == "1 Jun 2026, air: 1k ↓"
