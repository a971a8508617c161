"""When one person's wax is likely to be back, from their own past and the practice's.

The person's rate has the population's gamma distribution until their spells are
known, and each spell bends it: all exact interval terms, on a fixed grid of rates. The
next gap is averaged over what then remains possible.
"""

from __future__ import annotations

from functools import lru_cache
from math import exp, floor, log
from operator import mul, sub

import msgspec

from recall.cycle.frailty import grid
from recall.cycle.population import Population
from recall.cycle.spells import Past, Spell

RETURNS_NEEDED = 2
"""A person's own cycle is used from this many returns on."""
LONGEST_DAYS = 36_525.0
"""A hundred years: a gap that is not expected to end."""
_NEGLIGIBLE = 1e-10
_CACHED_DAYS = 4_000


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
    low_days: float
    """Five gaps in a hundred are shorter."""
    middle_days: float
    high_days: float
    """Five gaps in a hundred are longer."""
    population: Population
    rates: tuple[float, ...]
    weights: tuple[float, ...]
    """How probable each rate is, given the person's past."""

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
        self.rates, self.weights = grid(population.frailty)
        self._by_day: dict[float, list[float]] = {}

    def survivals(self, days: float) -> list[float]:
        """Return the chance of outlasting so many days at each rate."""
        found = self._by_day.get(days)
        if found is None:
            hazard = self.population.hazard(days)
            found = [exp(-rate * hazard) for rate in self.rates]
            if len(self._by_day) < _CACHED_DAYS:
                self._by_day[days] = found
        return found

    def chance(self, spell: Spell) -> list[float]:
        """Return the chance of a spell at each rate."""
        lived = self.survivals(spell.low_days)
        if spell.high_days is None:
            return lived
        return list(map(sub, lived, self.survivals(spell.high_days)))


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
        times = {0: "never", 1: "once"}.get(len(highs), f"{len(highs)} times")
        says = f"Wax was found back {times} so far: too little for an own cycle; routine interval."
        return TooLittle(len(highs), past.visits, says)
    rates, weights = _posterior(past.spells, _prior(population))
    low, middle, high = (
        min(population.days(_hazard_at(rates, weights, q)), LONGEST_DAYS) for q in (0.05, 0.5, 0.95)
    )
    return Forecast(
        len(highs),
        past.visits,
        min(highs),
        max(highs),
        low,
        middle,
        high,
        population,
        rates,
        weights,
    )


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
    weights: list[float] = list(prior.weights)
    for spell in spells:
        weights = list(map(mul, weights, prior.chance(spell)))
        if max(weights) < 1e-200:  # a very long past must not fade to nothing
            weights = [w * 1e200 for w in weights]
    floor_at = max(weights) * _NEGLIGIBLE
    kept = [(r, w) for r, w in zip(prior.rates, weights, strict=True) if w > floor_at]
    if not kept:
        return prior.rates, prior.weights
    total = sum([w for _, w in kept])
    return tuple([r for r, _ in kept]), tuple([w / total for _, w in kept])


def _hazard_at(rates: tuple[float, ...], weights: tuple[float, ...], share: float) -> float:
    """Return the hazard by which so large a share of gaps has ended.

    The logarithm of the averaged survival is convex and falls, so Newton's method
    never passes the answer from below and always finds it.
    """
    if not 0.0 < share < 1.0:
        raise ValueError("a quantile lies between 0 and 1")
    goal = log(1.0 - share)
    hazard: float = -goal / sum(map(mul, rates, weights))
    for _ in range(60):
        parts = [w * exp(-r * hazard) for r, w in zip(rates, weights, strict=True)]
        alive = sum(parts)
        gap = log(alive) - goal
        falling: float = sum(map(mul, rates, parts))
        hazard += gap * alive / falling
        if -1e-9 < gap < 1e-9 or hazard > 1e9:
            break
    return max(0.0, hazard)
