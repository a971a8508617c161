"""Curves and shares with their uncertainty, for the manager's screens.

Aalen-Johansen with its variance and the log-log interval; Wilson's interval for a share. All at
95 per cent.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from math import exp, log, sqrt

import msgspec

_Z = 1.959963984540054
"""The standard normal's 97.5 per cent point."""


_NOTHING = 1e-9
"""What is only the machine's rounding."""


class Arrival(msgspec.Struct, frozen=True):
    """One step of a curve of those who came, where some will never come for another reason."""

    at: float
    at_risk: int
    events: int
    otherwise: int
    """Those who left for another reason at that time."""
    share: float
    """Share of all who had come by then: those who left otherwise are in the whole."""
    error: float
    low: float
    high: float


COME, OTHERWISE = 1, 2
"""How somebody's time ended: they came, or it ended for another reason; 0 is still awaited."""


def arrivals(times: Iterable[tuple[float, int]]) -> tuple[Arrival, ...]:
    """Return the share who came by each time, with every other end as an end (Aalen-Johansen).

    Nobody is taken for still on the way who has left for good, so the curve stays below the
    share of those who can come no more. The variance is Greenwood's with competing ends and the
    interval log-log (Collett, Modelling Survival Data in Medical Research, 3rd ed., p. 411).

    Args:
        times: how long each was followed, and how that ended: `COME`, `OTHERWISE` or 0.
    """
    followed = list(times)
    ends = [Counter(t for t, how in followed if how == each) for each in (COME, OTHERWISE)]
    leaving = Counter(t for t, _ in followed)
    at_risk, left, share, spread = len(followed), 1.0, 0.0, _Spread()
    steps = []
    for at in sorted(leaving):
        came, gone = ends[0][at], ends[1][at]
        if came or gone:
            share += left * came / at_risk
            spread.add(at_risk, came, came + gone, left, share)
            left *= 1.0 - (came + gone) / at_risk
            error = spread.error(share)
            if share > 1.0 - _NOTHING:  # everybody came, but for what was rounded
                share, error = 1.0, 0.0
            low, high = _log_log(share, error)
            steps.append(Arrival(at, at_risk, came, gone, share, error, low, high))
        at_risk -= leaving[at]
    return tuple(steps)


class _Spread:
    """The variance of a share of those who came, as sums that grow with every step."""

    def __init__(self) -> None:
        self.squares = [0.0, 0.0, 0.0]
        self.own = 0.0
        self.both = [0.0, 0.0]

    def add(self, at_risk: int, came: int, ended: int, left: float, share: float) -> None:
        """Take in one time; after the one at which the last left nothing more comes."""
        if at_risk > ended:
            weight = ended / (at_risk * (at_risk - ended))
            for power in range(3):
                self.squares[power] += weight * share**power
        self.own += left**2 * came * (at_risk - came) / at_risk**3
        weight = left * came / at_risk**2
        for power in range(2):
            self.both[power] += weight * share**power

    def error(self, share: float) -> float:
        """Return the standard error of the share at the last time taken in."""
        none, one, two = self.squares
        grown = none * share**2 - 2 * one * share + two
        crossed = self.both[0] * share - self.both[1]
        return sqrt(max(0.0, grown + self.own - 2 * crossed))


def _log_log(share: float, error: float) -> tuple[float, float]:
    """Return the interval of a share that lies within 0 and 1; none is known at either end."""
    if not 0.0 < share < 1.0:
        return (0.0, 1.0) if error else (share, share)
    reach = exp(_Z * error / (share * abs(log(share))))
    return float(share**reach), float(share ** (1.0 / reach))


def half_came(steps: Iterable[Arrival]) -> float | None:
    """Return the first time by which half of all had come, or `None` if they have not.

    >>> half_came(arrivals([(1, COME), (2, OTHERWISE), (3, 0)])) is None
    True
    """
    return next((s.at for s in steps if s.share >= 0.5 - 1e-12), None)


def percent(share: float) -> str:
    """Return a share as people read it: all and none are said only where it is so.

    >>> percent(0.9996), percent(1.0), percent(0.001), percent(0.0), percent(0.415)
    ('>99%', '100%', '<1%', '0%', '42%')
    """
    if 0.995 <= share < 1.0 - _NOTHING:
        return ">99%"
    return "<1%" if _NOTHING < share < 0.005 else f"{share:.0%}"


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
