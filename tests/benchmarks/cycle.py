"""Processor time of the wax cycle for a register: `python tests/benchmarks/cycle.py [PEOPLE]`.

Everybody in the register has gaps in both ears. The floor, in the same run, is the
least that any forecast must do: read every spell once and work out one Weibull
survival for each of its ends.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from datetime import date
from math import exp
from time import process_time
from typing import Any

from recall.cycle.forecast import Forecast, forecast, next_check_days
from recall.cycle.population import Population, fit
from recall.cycle.spells import Past, Spell

SHAPE, SCALE_DAYS, FRAILTY = 1.7, 260.0, 0.4


def register(people: int) -> list[Past]:
    """Return invented people who were looked at 3 to 7 times, both ears each time."""
    rng = random.Random(7)
    return [_someone(rng) for _ in range(people)]


def _someone(rng: random.Random) -> Past:
    rate = rng.gammavariate(1 / FRAILTY, FRAILTY)
    days = [0]
    for _ in range(rng.randint(2, 6)):
        days.append(days[-1] + rng.randint(60, 300))
    return Past(_ear(rng, rate, days) + _ear(rng, rate, days), len(days))


def _ear(rng: random.Random, rate: float, days: list[int]) -> tuple[Spell, ...]:
    spells, since, clear = [], 0, 0
    gap = SCALE_DAYS * (rng.expovariate(1.0) / rate) ** (1 / SHAPE)
    for day in days[1:]:
        if since + gap > day:
            clear = day
            continue
        spells.append(Spell(clear - since, day - since))
        since = clear = day
        gap = SCALE_DAYS * (rng.expovariate(1.0) / rate) ** (1 / SHAPE)
    if clear > since:
        spells.append(Spell(clear - since))
    return tuple(spells)


def floor_seconds(pasts: list[Past]) -> float:
    """Return the time to read each spell once with one survival for each end."""
    start, total = process_time(), 0.0
    for past in pasts:
        for spell in past.spells:
            total += exp(-((spell.low_days / SCALE_DAYS) ** SHAPE))
            if spell.high_days is not None:
                total -= exp(-((spell.high_days / SCALE_DAYS) ** SHAPE))
    return process_time() - start


def spread(past: Past, population: Population | None) -> bool:
    """Forecast as `own_check`, with the middle and the 90% spread for somebody to read."""
    found = forecast(past, population)
    if isinstance(found, Forecast):
        return found.low_days < found.middle_days < found.high_days
    return False


def own_check(past: Past, population: Population | None) -> bool:
    """Forecast one person's next gap and check, and tell whether it is their own."""
    return next_check_days(forecast(past, population), 0.3, 90, 365) is not None


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Return how long something took, and what it gave."""
    start = process_time()
    given = work()
    return process_time() - start, given


def main() -> None:
    """Print the figures."""
    people = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    pasts = register(people)
    spells = sum(len(p.spells) for p in pasts)
    floor = min(floor_seconds(pasts) for _ in range(3))
    fitting, fitted = timed(lambda: fit((p.spells for p in pasts), date(2026, 1, 5)))
    population = fitted.population
    casting, own = timed(lambda: sum(own_check(p, population) for p in pasts))
    spreading, _ = timed(lambda: sum(spread(p, population) for p in pasts))
    print(f"{people} people, {spells} spells, {own} with a cycle of their own")
    print(f"population: {population or fitted.reason}")
    for name, seconds in (
        ("floor", floor),
        ("fit", fitting),
        ("forecasts and next checks", casting),
        ("fit, forecasts and checks", fitting + casting),
        ("forecasts with spreads", spreading),
    ):
        print(f"{name:26} {seconds:8.3f} s {seconds / floor:8.1f} x floor")
    print(f"one forecast and check: {1e6 * casting / people:.0f} microseconds")


if __name__ == "__main__":
    main()
