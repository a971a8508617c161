"""Curves and shares with their uncertainty, for the manager's screens.

Kaplan-Meier with Greenwood's variance and the log-log interval; Wilson's interval for
a share. All at 95 per cent.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from math import exp, log, sqrt

import msgspec

_Z = 1.959963984540054
"""The standard normal's 97.5 per cent point."""


class Step(msgspec.Struct, frozen=True):
    """One step of a curve: what is left after the events at one time."""

    at: float
    at_risk: int
    events: int
    left: float
    """Share without the event after this time."""
    error: float
    """Its standard error (Greenwood)."""
    low: float
    high: float


def kaplan_meier(times: Iterable[tuple[float, bool]]) -> tuple[Step, ...]:
    """Return the curve of those still without the event, one step a time of event.

    Args:
        times: how long each was followed, and whether the event ended it. One lost to
            view at the same time as an event counts as at risk there.
    """
    followed = list(times)
    events = Counter(t for t, happened in followed if happened)
    leaving = Counter(t for t, _ in followed)
    at_risk, left, greenwood, high = len(followed), 1.0, 0.0, 1.0
    steps = []
    for at in sorted(leaving):
        if count := events[at]:
            left *= 1.0 - count / at_risk
            low, error = 0.0, 0.0  # nobody left: the upper end stays where it last was
            if at_risk > count:
                greenwood += count / (at_risk * (at_risk - count))
                error = left * sqrt(greenwood)
                reach = exp(_Z * sqrt(greenwood) / abs(log(left)))
                low, high = left**reach, left ** (1.0 / reach)
            steps.append(Step(at, at_risk, count, left, error, low, high))
        at_risk -= leaving[at]
    return tuple(steps)


def median(steps: Iterable[Step]) -> float | None:
    """Return the first time by which half have had the event, or `None` if they have not.

    >>> median(kaplan_meier([(1, True), (2, True), (3, False)]))
    2
    """
    return next((s.at for s in steps if s.left <= 0.5 + 1e-12), None)


def wilson(hits: int, of: int) -> tuple[float, float]:
    """Return the 95 per cent interval of a share; nothing counted tells nothing.

    >>> [round(x, 4) for x in wilson(81, 263)]
    [0.2553, 0.3662]
    """
    if not 0 <= hits <= of:
        raise ValueError("hits lie between 0 and the number counted")
    if of == 0:
        return 0.0, 1.0
    share, square = hits / of, _Z**2
    middle = (share + square / (2 * of)) / (1 + square / of)
    half = _Z * sqrt(share * (1 - share) / of + square / (4 * of**2)) / (1 + square / of)
    return max(0.0, middle - half), min(1.0, middle + half)
