"""The hearing chart on a page: where its lines and signs are, and what is read aloud of it."""

from __future__ import annotations

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
