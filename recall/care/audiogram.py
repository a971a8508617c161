"""The two newest hearing tests of each ear as curves, for a chart on the screen or in a letter.

Drawn by the usual conventions: frequency from left to right by octaves, hearing level downwards;
circles for the right ear and crosses for the left by air, arrowheads open towards the nose by
bone (ISO 8253-1 and ASHA 1990, from memory; British practice may draw bone that was not masked as a
triangle). Masking is not recorded, so no sign of a masked threshold is ever drawn.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Literal

import msgspec

from recall.care.case import Visit
from recall.care.ear import SIDES, Ear, Side
from recall.care.measured import Levels

FREQUENCIES = (125, 250, 500, 1000, 2000, 4000, 8000)
"""Hz, an octave apart: the lines of the chart."""
TOP_DB, BOTTOM_DB = -10, 120
"""dB HL at the upper and lower edge of the chart."""
By = Literal["air", "bone"]
SIGNS: dict[tuple[Side, By], str] = {
    ("right", "air"): "O",
    ("left", "air"): "X",
    ("right", "bone"): "<",
    ("left", "bone"): ">",
}
"""The signs of thresholds that were not masked."""


class Point(msgspec.Struct, frozen=True, kw_only=True):
    """One threshold: at which frequency, in Hz."""

    hz: int
    level: float
    """dB HL."""
    answered: bool = True
    """False: no response at the limit of the audiometer, drawn at the lower edge."""


class Curve(msgspec.Struct, frozen=True, kw_only=True):
    """One ear's thresholds by air or by bone, on one day, from low to high."""

    ear: Side
    by: By
    on: date
    points: tuple[Point, ...]
    is_before: bool = False
    """The test before the newest, drawn behind it."""


class Audiogram(msgspec.Struct, frozen=True, kw_only=True):
    """The newest test of both ears, with the one before behind it."""

    curves: tuple[Curve, ...]

    def days(self, *, before: bool = False) -> tuple[date, ...]:
        """Return the days of the newest tests, or of those before; an ear may have its own."""
        return tuple(sorted({c.on for c in self.curves if c.is_before is before}))


def audiogram(visits: Sequence[Visit]) -> Audiogram | None:
    """Return the curves of some visits; None where hearing was never measured."""
    curves = tuple(c for side in SIDES for c in _of_side(visits, side))
    return Audiogram(curves=curves) if curves else None


def _of_side(visits: Sequence[Visit], side: Side) -> Iterator[Curve]:
    in_order = sorted(visits, key=lambda v: v.on, reverse=True)
    ears = [(v.on, ear) for v in in_order if (ear := _ear(v, side)) and _measured(ear)]
    # What is drawn first lies behind.
    for (on, ear), is_before in reversed(list(zip(ears, (False, True), strict=False))):
        for by, levels in (("air", ear.hearing_dB), ("bone", ear.bone_dB)):
            if levels:
                yield Curve(
                    ear=side,
                    by="air" if by == "air" else "bone",
                    on=on,
                    points=_points(levels),
                    is_before=is_before,
                )


def _ear(visit: Visit, side: Side) -> Ear | None:
    return visit.right if side == "right" else visit.left


def _measured(ear: Ear) -> bool:
    return bool(ear.hearing_dB or ear.bone_dB)


def _points(levels: Levels) -> tuple[Point, ...]:
    found = [
        Point(hz=int(hz), level=BOTTOM_DB, answered=False)
        if level == "nr"
        else Point(hz=int(hz), level=float(level))
        for hz, level in levels.items()
    ]
    return tuple(sorted(found, key=lambda p: p.hz))


def in_words(chart: Audiogram) -> str:
    """Return what a chart shows, for whoever has it read aloud; levels are in dB HL.

    >>> one = Curve(ear="left", by="air", on=date(2026, 9, 1), points=_points({"1000": 20}))
    >>> in_words(Audiogram(curves=(one,)))
    'left ear, by air, 2026-09-01: 1000 Hz 20'
    """
    return "; ".join(f"{_named(c)}: {_told(c.points)}" for c in reversed(chart.curves))


def _named(curve: Curve) -> str:
    return f"{curve.ear} ear, by {curve.by}, {curve.on}"


def _told(points: Sequence[Point]) -> str:
    return ", ".join(f"{p.hz} Hz {f'{p.level:g}' if p.answered else 'no response'}" for p in points)
