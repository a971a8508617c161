"""When one person's wax is likely to be back, from their own past and the practice's.

The person's rate has the population's gamma distribution until their spells are
known, and each spell bends it: all exact interval terms, on a fixed grid of rates. The
next gap is averaged over what then remains possible.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from math import exp, expm1, floor, log
from operator import mul, sub

import msgspec

from recall.cycle.frailty import grid
from recall.cycle.population import Population
from recall.cycle.spells import Past, Spell

RETURNS_NEEDED = 2
"""A person's own cycle is used from this many returns on."""
LONGEST_DAYS = 36_525.0
"""A hundred years: a gap that is not expected to end."""
_NEGLIGIBLE = 1e-6
_CACHED_DAYS = 4_000
_GRID_DEPTH = 8.0
_CLOSE = 2e-2
"""Newton's last step squares what is left of this."""
_ENDLESS = 1e9


class TooLittle(msgspec.Struct, frozen=True):
    """No forecast, and why: the routine interval stands."""

    events: int
    visits: int
    says: str


class Forecast(msgspec.Struct, frozen=True):
    """The predictive distribution of a person's next gap."""

    events: int
    """How often wax was found back."""
    visits: int
    """On how many visits wax was recorded."""
    soonest_days: float
    """The shortest gap by whose end wax was found back."""
    longest_days: float
    """The longest of those."""
    population: Population
    rates: tuple[float, ...]
    weights: tuple[float, ...]
    """How probable each rate is, given the person's past."""

    @property
    def low_days(self) -> float:
        """Five of the person's next gaps in a hundred would be shorter."""
        return self.quantile(0.05)

    @property
    def middle_days(self) -> float:
        """Half would be shorter, half longer."""
        return self.quantile(0.5)

    @property
    def high_days(self) -> float:
        """Five in a hundred would be longer."""
        return self.quantile(0.95)

    def quantile(self, share: float, clear_for_days: float = 0.0) -> float:
        """Return within how many more days wax is back in so large a share of cases.

        Args:
            share: between 0 and 1.
            clear_for_days: how long the running gap has lasted with the ear still clear;
                that gap is to be among the spells of the person's past.
        """
        people = self.population
        start = people.hazard(clear_for_days) if clear_for_days else 0.0
        more = _hazard_at(self.rates, self.weights, share)
        return min(people.days(start + more), LONGEST_DAYS + clear_for_days) - clear_for_days


class _Prior:
    """A population's grid of rates, with the survivals of each day worked out once."""

    def __init__(self, population: Population) -> None:
        self.population = population
        self.rates, self.weights = grid(population.frailty, _GRID_DEPTH, RETURNS_NEEDED)
        self.by_day: dict[float, list[float]] = {}
        self.back_by_day: dict[float, list[float]] = {}

    def alive(self, days: float) -> list[float]:
        """Return the chance of outlasting so many days at each rate."""
        hazard = self.population.hazard(days)
        chances = [exp(-rate * hazard) for rate in self.rates]
        if len(self.by_day) < _CACHED_DAYS:
            self.by_day[days] = chances
        return chances

    def back(self, days: float) -> list[float]:
        """Return the chance of wax being back by a day, with no look on the way, at each rate."""
        chances = [1.0 - c for c in self.by_day.get(days) or self.alive(days)]
        if len(self.back_by_day) < _CACHED_DAYS:
            self.back_by_day[days] = chances
        return chances


@lru_cache(maxsize=8)
def _prior(population: Population) -> _Prior:
    return _Prior(population)


def forecast(
    past: Past, population: Population | None, *, returns_needed: int = RETURNS_NEEDED
) -> Forecast | TooLittle:
    """Return when wax is likely to be back in either of a person's ears, or why that is unknown."""
    highs = [s.high_days for s in past.spells if s.high_days is not None]
    if population is None:
        says = "How wax comes back in this practice is not worked out yet; routine interval."
        return TooLittle(len(highs), past.visits, says)
    if len(highs) < max(1, returns_needed):
        times = {0: "Wax has not come back", 1: "Wax has come back once"}
        seen = times.get(len(highs), f"Wax has come back {len(highs)} times")
        says = f"{seen} so far: too little to tell this person's own cycle; routine interval."
        return TooLittle(len(highs), past.visits, says)
    rates, weights = _posterior(past.spells, _prior(population))
    return Forecast(len(highs), past.visits, min(highs), max(highs), population, rates, weights)


def next_check_days(
    forecast: Forecast | TooLittle,
    quantile: float,
    low_days: int,
    high_days: int,
    *,
    clear_for_days: float = 0.0,
) -> int | None:
    """Return after how many days to look again, within bounds; `None`: the routine interval.

    Counted from the visit that found or left the ear clear; `clear_for_days` is how
    long the running gap had lasted by then.
    """
    if isinstance(forecast, TooLittle):
        return None
    days = floor(forecast.quantile(quantile, clear_for_days))
    return min(max(days, low_days), high_days)


def _posterior(
    spells: tuple[Spell, ...], prior: _Prior
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the rates that remain possible and their probabilities."""
    known, alive, back = prior.by_day, prior.alive, prior.back_by_day
    lazy: Iterable[float] = prior.weights
    for count, spell in enumerate(spells, 1):
        low, high = spell.low_days, spell.high_days
        chance: Iterable[float]
        if high is None:
            chance = known.get(low) or alive(low)
        elif low == 0:
            chance = back.get(high) or prior.back(high)
        else:
            chance = map(sub, known.get(low) or alive(low), known.get(high) or alive(high))
        lazy = map(mul, lazy, chance)
        if count % 8 == 0:  # a very long past must not fade to nothing
            weights = list(lazy)
            most = max(weights) or 1.0
            lazy = [w / most for w in weights]
    weights = list(lazy)
    least = max(weights) * _NEGLIGIBLE
    kept = [(r, w) for r, w in zip(prior.rates, weights, strict=True) if w > least]
    if not kept:  # impossible under this population: the person's past cannot speak here
        return prior.rates, prior.weights
    total = sum([w for _, w in kept])
    return tuple([r for r, _ in kept]), tuple([w / total for _, w in kept])


def _hazard_at(rates: tuple[float, ...], weights: tuple[float, ...], share: float) -> float:
    """Return the hazard by which so large a share of gaps has ended.

    The logarithm of the averaged survival is convex and falls, so Newton's method
    never passes the answer from below; from above it is back below in one step.
    """
    if not 0.0 < share < 1.0:
        raise ValueError("a quantile lies between 0 and 1")
    goal = log(1.0 - share)
    falling = tuple(map(mul, rates, weights))
    mean: float = sum(falling)
    square: float = sum(map(mul, rates, falling))
    # Begin at the answer for the gamma distribution with the same mean and variance, but
    # not so far out that nothing is left alive there.
    frailty = min(max(square / mean**2 - 1.0, 1e-6), 1.0)
    hazard: float = expm1(-goal * frailty) / (frailty * mean)
    for _ in range(60):
        chances = [exp(-rate * hazard) for rate in rates]
        alive: float = sum(map(mul, weights, chances)) or 1e-300
        slope: float = sum(map(mul, falling, chances))
        gap = log(alive) - goal
        hazard = max(0.0, hazard + gap * alive / (slope or 1e-300))
        if -_CLOSE < gap < _CLOSE or hazard > _ENDLESS:
            break
    return hazard
