"""Contrast of every pair of colours, and a desk without colours.

Source: W3C, Web Content Accessibility Guidelines (WCAG) 2.2, 12 December 2024, success criteria
1.4.3 (text: 4.5 to 1), 1.4.11 (parts of the interface: 3 to 1), 1.4.1 (not by colour alone), and
the definitions of "relative luminance" and "contrast ratio".
"""

from __future__ import annotations

from functools import partial
from pathlib import Path

import pytest

from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.styles.themes import DUSK, EDGES, NAMES, PAIRS, PAPER, TERMINAL
from tui.words.signs import LOUDNESS, STATUS_SIGNS, STATUS_WORDS, URGENCY_WORDS, loud, says_status

SETS = {"paper": PAPER, "dusk": DUSK}


def luminance(colour: str) -> float:
    """Relative luminance, as WCAG 2.2 defines it."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, as WCAG 2.2 defines it."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_on_known_pairs() -> None:
    """Black on white is 21 to 1 by definition; #767676 on white is the lightest grey that passes
    1.4.3 (W3C, Understanding WCAG, technique G18)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("name", SETS)
def test_text_can_be_read_on_everything_it_stands_on(name: str) -> None:
    colours = SETS[name]
    found = {pair: contrast(colours[pair[0]], colours[pair[1]]) for pair in PAIRS}

    assert {pair: round(ratio, 2) for pair, ratio in found.items() if ratio < 4.5} == {}


@pytest.mark.parametrize("name", SETS)
def test_frames_and_bars_can_be_seen(name: str) -> None:
    colours = SETS[name]
    found = {pair: contrast(colours[pair[0]], colours[pair[1]]) for pair in EDGES}

    assert {pair: round(ratio, 2) for pair, ratio in found.items() if ratio < 3} == {}


def test_every_set_has_every_role() -> None:
    assert PAPER.keys() == DUSK.keys() == TERMINAL.keys()
    assert {role for pair in (*PAIRS, *EDGES) for role in pair} <= PAPER.keys()


def test_every_state_has_a_sign_and_a_word_of_its_own() -> None:
    """WCAG 2.2, 1.4.1: colour is never the only thing that tells."""
    for signs, words in ((LOUDNESS, URGENCY_WORDS), (STATUS_SIGNS, STATUS_WORDS)):
        assert signs.keys() == words.keys()
        assert len(set(signs.values())) == len(set(words.values())) == len(signs)
    assert loud("urgent").endswith("urgent")
    assert says_status("lost") == "? lost"


@pytest.mark.parametrize("name", NAMES)
def test_the_desk_shows_the_same_words_in_every_set(
    name: str, practice: Path, app: DeskApp
) -> None:
    """What is said does not depend on colours."""
    seen: list[str] = []

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        seen.append(driver.text)

    drive(app, steps)
    drive(DeskApp(partial(opening, practice), colours=name), steps)

    assert seen[0] == seen[1]


def test_no_colour_where_none_is_wanted(practice: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """NO_COLOR (no-color.org): set, whatever it holds, no colour is written."""
    monkeypatch.setenv("NO_COLOR", "1")

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        assert driver.app.no_color
        assert "Reach" in driver.text
        ground = driver.app.screen.background_colors[1]
        greys = {
            (colour.triplet.red, colour.triplet.green, colour.triplet.blue)
            for strip in driver.app.screen._compositor.render_strips()
            for segment in strip.apply_filter(driver.app._filters[-1], ground)
            if segment.style
            for colour in (segment.style.color, segment.style.bgcolor)
            if colour and colour.triplet
        }
        assert all(max(grey) - min(grey) <= 1 for grey in greys)

    drive(DeskApp(partial(opening, practice)), steps)
