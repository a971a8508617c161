"""The newest hearing test of one ear as a chart in text, with the one before behind it."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, log2

from textual.content import Content

from recall.care.audiogram import BOTTOM_DB, FREQUENCIES, SIGNS, TOP_DB, Audiogram, Curve, Point
from recall.care.ear import Side
from tui.words.text import full_day, literal, wrapped

LABEL = 5
STEP_DB = 10
"""How many dB one line holds; the levels below the chart are exact."""
NO_RESPONSE = "↓"
MOST_LINES = 4
EMPTY = "Hearing was not measured by frequency."
LEGEND = f"O X by air, < > by bone, unmasked  {NO_RESPONSE} no response  o x the test before"
Cell = tuple[str, str]


def audiogram_lines(found: Audiogram | None, side: Side, width: int) -> list[Content]:
    """Return the chart of one ear, the exact levels below it, and the days of the tests."""
    curves = [c for c in found.curves if c.ear == side] if found else []
    if not curves:
        return [Content.styled(EMPTY, "$desk-quiet")]
    step = max(4, (width - LABEL - 2) // len(FREQUENCIES))
    grid = _grid(step)
    for curve in curves:
        if not (curve.is_before and curve.by == "bone"):
            _draw(grid, curve, step)
    rows = [
        Content.assemble((f"{TOP_DB + n * STEP_DB:>4} ", "$desk-quiet"), *row)
        for n, row in enumerate(grid)
    ]
    return [_axis(step), *rows, *_levels(curves, width)]


def _grid(step: int) -> list[list[Cell]]:
    """Return an empty chart: a dot where each octave crosses each line."""
    width = step * len(FREQUENCIES)
    rows = (BOTTOM_DB - TOP_DB) // STEP_DB + 1
    return [
        [("·" if column % step == step // 2 else " ", "$desk-rule") for column in range(width)]
        for _ in range(rows)
    ]


def _axis(step: int) -> Content:
    words = "".join(f"{_short(hz):^{step}}" for hz in FREQUENCIES)
    return Content.styled(f"{'dB':>4} {words}".rstrip(), "$desk-quiet")


def _short(hz: int) -> str:
    return f"{hz // 1000}k" if hz >= 1000 else str(hz)


def _draw(grid: list[list[Cell]], curve: Curve, step: int) -> None:
    sign, style = SIGNS[curve.ear, curve.by], "bold $desk-lead"
    if curve.is_before:
        sign, style = sign.lower(), "$desk-quiet"
    for point in curve.points:
        row, column = _place(point, step)
        # By bone beside the sign by air, so that neither hides the other.
        column += {"<": -1, ">": 1}.get(sign, 0)
        grid[row][column] = (sign if point.answered else NO_RESPONSE, style)


def _place(point: Point, step: int) -> tuple[int, int]:
    level = min(max(point.level, TOP_DB), BOTTOM_DB)
    row = floor((level - TOP_DB) / STEP_DB + 0.5)
    return row, round(step // 2 + step * log2(point.hz / FREQUENCIES[0]))


def _levels(curves: Sequence[Curve], width: int) -> list[Content]:
    lines: list[Content] = []
    for curve in sorted(curves, key=lambda c: (c.is_before, c.by)):
        if curve.is_before and curve.by == "bone":
            continue
        style = "$desk-quiet" if curve.is_before else ""
        told = wrapped(f"{_words(curve)}: {_told(curve.points)}", width, MOST_LINES)
        lines += [literal(line, style) for line in told]
    return lines


def _words(curve: Curve) -> str:
    return f"{full_day(curve.on)}, {curve.by}"


def _told(points: Sequence[Point]) -> str:
    return ", ".join(
        f"{_short(p.hz)} {f'{p.level:g}' if p.answered else NO_RESPONSE}" for p in points
    )
