"""How probable the whole practice's spells are under one population.

For a person with d returns the average over the shared gamma rate is exact: each
return is a difference of two survivals, so the product is a signed sum of 2**d
survivals, each a Laplace transform of the gamma. With many returns that sum
loses digits to cancellation; those people are averaged on a grid of rates.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from math import exp, log, log1p
from operator import mul, sub

from recall.cycle.frailty import grid
from recall.cycle.spells import Spell

_EXACT_RETURNS = 4
"""Signed sums up to this many returns; the grid beyond."""
_CANCELLED = 1e-8
"""A signed sum that keeps less than this of its largest term is done again on the grid."""
_TINY = 1e-300
_SIGNS = [[1.0]]
for _ in range(_EXACT_RETURNS):
    _SIGNS.append(_SIGNS[-1] + [-s for s in _SIGNS[-1]])

Person = tuple[tuple[float, ...], tuple[tuple[float, float], ...]]
"""Days still clear of the open spells, and (low, high) of the returns; both sorted."""


def person(spells: Iterable[Spell]) -> Person:
    """Return a person's spells in an order that does not depend on ear or visit."""
    lived: list[float] = []
    returns: list[tuple[float, float]] = []
    for spell in spells:
        if spell.high_days is not None:
            returns.append((spell.low_days, spell.high_days))
        elif spell.low_days > 0:
            lived.append(spell.low_days)
    return tuple(sorted(lived)), tuple(sorted(returns))


class Likelihood:
    """The marginal log-likelihood of many people's spells, ready to be evaluated often."""

    def __init__(self, people: Sequence[Person]) -> None:
        """Number the distinct days, so that each one's hazard is worked out once a time."""
        days = sorted(
            {d for lived, back in people for d in (*lived, *(e for b in back for e in b))}
        )
        place = {day: i for i, day in enumerate(days)}
        self._days = days
        self._open: list[tuple[int, tuple[int, ...]]] = []
        self._back: list[tuple[int, tuple[int, ...], tuple[tuple[int, int], ...]]] = []
        for (lived, back), count in sorted(Counter(people).items()):
            ended = tuple(place[d] for d in lived)
            if back:
                pairs = tuple((place[low], place[high]) for low, high in back)
                self._back.append((count, ended, pairs))
            else:
                self._open.append((count, ended))

    def __call__(self, shape: float, scale: float, frailty: float) -> float:
        """Return the log-likelihood under a population."""
        hazards = [(day / scale) ** shape for day in self._days]
        theta = max(frailty, 1e-12)
        total = 0.0
        for count, lived in self._open:
            total -= count * log1p(theta * sum([hazards[i] for i in lived])) / theta
        averages: _Averages | None = None
        for count, lived, pairs in self._back:
            chance = 0.0
            if len(pairs) <= _EXACT_RETURNS:
                clear = sum([hazards[i] for i in lived])
                chance = _signed_sum(clear, pairs, hazards, theta)
            if chance <= 0.0:
                averages = averages or _Averages(hazards, frailty)
                chance = max(averages.chance(lived, pairs), _TINY)
            total += count * log(chance)
        return total


class _Averages:
    """Chances averaged over a grid of rates, each day's survivals worked out once."""

    def __init__(self, hazards: list[float], frailty: float) -> None:
        rates, self._weights = grid(frailty)
        self._alive = [[exp(-rate * hazard) for rate in rates] for hazard in hazards]

    def chance(self, lived: tuple[int, ...], pairs: tuple[tuple[int, int], ...]) -> float:
        """Return the chance of one person's spells."""
        weights: Iterable[float] = self._weights
        alive = self._alive
        for day in lived:
            weights = map(mul, weights, alive[day])
        for low, high in pairs:
            weights = map(mul, weights, map(sub, alive[low], alive[high]))
        return sum(weights)


def _signed_sum(
    clear: float, pairs: tuple[tuple[int, int], ...], hazards: list[float], theta: float
) -> float:
    """Return the exact chance of some returns, or 0 where too many digits cancel."""
    sums = [clear]
    for low, high in pairs:
        a, b = hazards[low], hazards[high]
        sums = [s + a for s in sums] + [s + b for s in sums]
    terms = [exp(-log1p(theta * s) / theta) for s in sums]
    chance = 0.0
    for sign, term in zip(_SIGNS[len(pairs)], terms, strict=True):
        chance += sign * term
    return chance if chance > _CANCELLED * terms[0] else 0.0
