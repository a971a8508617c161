"""Fitting an address into what every usual window shows: 80 by 24 mm.

The window of a DL envelope (ISO 269; 35 x 90 mm, 20 mm from the left, 18 mm from the bottom, the
usual trade size) shows this much wherever the sheet slides; it lies inside the address field of
DIN 5008 form B too. Five lines at 12 point on 4.5 mm fill it; more lines take smaller type.
"""

from __future__ import annotations

from functools import lru_cache
from math import floor
from typing import NamedTuple

from recall.letters.coverage import width_mm

WIDTH_MM = 80.0
HEIGHT_MM = 24.0
_SIZES = ((12.0, 4.5), (11.0, 4.2), (10.0, 3.9), (9.0, 3.4))
"""Point size and line step in mm, the largest first; 9 point is the smallest that is sorted well
by machine (common practice, no source)."""

_ROOMY_MM_PER_POINT = 0.43


class Fitted(NamedTuple):
    """An address as it stands in the window."""

    lines: tuple[str, ...]
    points: float
    step_mm: float


@lru_cache(maxsize=4096)
def fit(address: tuple[str, ...]) -> Fitted | None:
    """Return the address at the largest size that fits, or None where none does."""
    for points, step in _SIZES:
        lines = tuple(part for line in address for part in _broken(line, points))
        fits = len(lines) * step <= HEIGHT_MM and all(
            width_mm(line, points) <= WIDTH_MM for line in lines
        )
        if fits:
            return Fitted(lines, points, _loosened(step, len(lines), points))
    return None


def _loosened(step: float, lines: int, points: float) -> float:
    """Return a wider line step where a short address leaves room for one."""
    roomy = min(HEIGHT_MM / lines, points * _ROOMY_MM_PER_POINT)
    return max(step, floor(roomy * 100) / 100)


def _broken(line: str, points: float) -> list[str]:
    """Break a line between words where it is wider than the window."""
    parts: list[str] = []
    for word in line.split(" "):
        longer = f"{parts[-1]} {word}" if parts else word
        if parts and width_mm(longer, points) <= WIDTH_MM:
            parts[-1] = longer
        else:
            parts.append(word)
    return parts
