"""The hearing chart on a page: where its lines and signs are, and what is read aloud of it."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import msgspec
import pdfplumber
import pikepdf
import pytest

from recall.care.audiogram import Audiogram, audiogram, in_words
from recall.care.case import Visit
from recall.care.ear import Ear
from recall.letters import sample
from recall.letters.compose import compose
from recall.letters.composed import ComposedLetter, from_json, to_json
from recall.letters.pages import make_pdf
from recall.letters.wording import Wording
from tests.letters.printed import MM

DAY = sample.letter("referral").on


def letter_with(*visits: Visit) -> ComposedLetter:
    """A referral that draws the hearing tests of some visits."""
    data = sample.letter("referral")
    assert data.seen is not None
    seen = msgspec.structs.replace(data.seen, audiogram=audiogram(visits), tested_before=None)
    return compose(msgspec.structs.replace(data, seen=seen), Wording())


def circles(letter: ComposedLetter, out: Path) -> list[tuple[float, float]]:
    """The middles of what is drawn round, in millimetres, from left to right."""
    make_pdf([letter], out)
    with pdfplumber.open(out) as pdf:
        found = [
            ((c["x0"] + c["x1"]) / 2 * MM, (c["top"] + c["bottom"]) / 2 * MM)
            for page in pdf.pages
            for c in page.curves
            if abs(c["width"] - c["height"]) < 0.1
        ]
    return sorted(found)


def test_an_octave_is_as_wide_as_twenty_decibels_are_high(tmp_path: Path) -> None:
    """ISO 8253-1 and BSA (2018) ask for this shape of the chart: from memory."""
    ear = Ear(hearing_dB={"500": 20, "1000": 40, "4000": 60})

    (x1, y1), (x2, y2), (x3, y3) = circles(letter_with(Visit(on=DAY, right=ear)), tmp_path / "a")

    octave = x2 - x1
    assert octave > 5
    assert y2 - y1 == pytest.approx(octave, abs=0.1)
    assert x3 - x2 == pytest.approx(2 * octave, abs=0.1)
    assert y3 - y2 == pytest.approx(octave, abs=0.1)


def test_the_left_ear_has_no_circles(tmp_path: Path) -> None:
    left = letter_with(Visit(on=DAY, left=Ear(hearing_dB={"500": 20, "1000": 40})))

    assert circles(left, tmp_path / "left") == []


Stroke = tuple[tuple[float, float], tuple[float, float]]
"""Both ends of a line, in millimetres."""


DEFAULT = 0
"""How the reader of a page tells a thickness that is written nowhere: PDF has one point then."""
JOINING = 0.6
"""Points."""


def is_coloured(colour: object) -> bool:
    """Whether it is no grey: a grey has one number, or three alike."""
    return isinstance(colour, tuple) and len(set(colour)) > 1


def strokes(letter: ComposedLetter, out: Path, width: float = DEFAULT) -> list[Stroke]:
    """The coloured lines of one thickness, from left to right; the grid is grey."""
    make_pdf([letter], out)
    with pdfplumber.open(out) as pdf:
        found = [
            ((x1 * MM, y1 * MM), (x2 * MM, y2 * MM))
            for page in pdf.pages
            for line in page.lines
            if abs(line["linewidth"] - width) < 0.01 and is_coloured(line["stroking_color"])
            for (x1, y1), (x2, y2) in [sorted(line["pts"])]
        ]
    return sorted(found)


def near(found: tuple[float, float], x: float, y: float) -> bool:
    return abs(found[0] - x) < 0.1 and abs(found[1] - y) < 0.1


def test_bone_of_the_right_ear_is_an_arrowhead_beside_the_circle_open_to_the_right(
    tmp_path: Path,
) -> None:
    """< for the right ear, not masked (ISO 8253-1; ASHA 1990): from memory."""
    ear = Ear(hearing_dB={"1000": 40}, bone_dB={"1000": 40})
    letter = letter_with(Visit(on=DAY, right=ear))

    ((x, y),) = circles(letter, tmp_path / "a")
    up, down = sorted(strokes(letter, tmp_path / "b"), key=lambda s: s[1][1])

    assert near(up[0], *down[0])
    assert up[0][0] < x
    assert up[0][1] == pytest.approx(y, abs=0.1)
    assert up[0][0] < up[1][0] < x
    assert down[1][0] == pytest.approx(up[1][0], abs=0.1)
    assert up[1][1] < y < down[1][1]


def test_the_left_ear_has_a_cross_by_air_and_its_arrowhead_open_to_the_left(
    tmp_path: Path,
) -> None:
    """X and > for the left ear, not masked (ISO 8253-1; ASHA 1990): from memory."""
    air = letter_with(Visit(on=DAY, left=Ear(hearing_dB={"1000": 40})))
    both = letter_with(Visit(on=DAY, left=Ear(hearing_dB={"1000": 40}, bone_dB={"1000": 40})))

    falling, rising = sorted(strokes(air, tmp_path / "a"), key=lambda s: s[0][1])
    bone = [s for s in strokes(both, tmp_path / "b") if s not in (falling, rising)]

    assert near(falling[0], rising[0][0], falling[0][1])
    assert near(falling[1], rising[1][0], rising[0][1])
    x, y = (falling[0][0] + falling[1][0]) / 2, (falling[0][1] + falling[1][1]) / 2
    assert len(bone) == 2
    assert near(bone[0][1], *bone[1][1])
    assert x < bone[0][0][0] < bone[0][1][0]
    assert bone[0][1][1] == pytest.approx(y, abs=0.1)
    assert sorted(s[0][1] < y for s in bone) == [False, True]


def test_the_test_before_is_grey_thinner_behind_and_joined_by_no_line(tmp_path: Path) -> None:
    """Common practice: what was measured before may not be taken for what was measured now."""
    now = Visit(on=DAY, right=Ear(hearing_dB={"1000": 60, "4000": 60}))
    before = Visit(on=DAY - timedelta(days=200), right=Ear(hearing_dB={"1000": 20, "4000": 20}))
    make_pdf([letter_with(now, before)], tmp_path / "a")

    with pdfplumber.open(tmp_path / "a") as pdf:
        drawn = [
            (c["top"], c["linewidth"], c["stroking_color"])
            for page in pdf.pages
            for c in page.curves
            if abs(c["width"] - c["height"]) < 0.1
        ]
    old, new = drawn[:2], drawn[2:]
    joined = strokes(letter_with(now, before), tmp_path / "b", JOINING)

    assert max(top for top, _, _ in old) < min(top for top, _, _ in new)
    assert {width for _, width, _ in old} == {0.5}
    assert {width for _, width, _ in new} == {DEFAULT}
    assert not any(is_coloured(colour) for _, _, colour in old)
    assert all(is_coloured(colour) for _, _, colour in new)
    assert len(joined) == 1
    (_, left), (_, right) = joined[0]
    assert left == pytest.approx(right, abs=0.1)
    assert left > max(top for top, _, _ in old) * MM


def test_what_the_chart_shows_is_told_in_words_to_whoever_cannot_see_it(tmp_path: Path) -> None:
    letter = letter_with(Visit(on=DAY, right=Ear(hearing_dB={"1000": 45, "8000": "nr"})))
    make_pdf([letter], tmp_path / "a.pdf")

    with pikepdf.open(tmp_path / "a.pdf") as pdf:
        told = [
            str(o.Alt) for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and "/Alt" in o
        ]

    assert told == ["right ear, by air, 2026-10-06: 1000 Hz 45, 8000 Hz no response"]


def test_a_letter_keeps_its_chart_and_one_of_before_has_none() -> None:
    letter = letter_with(Visit(on=DAY, right=Ear(hearing_dB={"1000": 45})))
    kept = from_json(to_json(letter))

    assert isinstance(kept.audiogram, Audiogram)
    assert in_words(kept.audiogram) == "right ear, by air, 2026-10-06: 1000 Hz 45"
    old = to_json(compose(sample.letter("reminder"), Wording())).replace(b',"audiogram":null', b"")
    assert from_json(old).audiogram is None
