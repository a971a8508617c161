"""A simulated practice: true gaps are known, visits only look at them now and then."""

import random
from datetime import date, timedelta
from typing import NamedTuple

from recall.cycle.spells import Look, Past, past

OPENED = date(2023, 1, 2)
SHAPE, SCALE_DAYS, FRAILTY = 1.7, 260.0, 0.4


class Simulated(NamedTuple):
    """One invented person: the looks at each ear, what they tell, and the next true gaps."""

    right: list[Look]
    left: list[Look]
    past: Past
    next_gaps: list[float]


def simulate(people, *, seed, frailty=FRAILTY, years=3):
    """Return people whose looks come 2 to 10 months apart, whatever the wax does."""
    rng = random.Random(seed)
    return [_person(rng, frailty, years) for _ in range(people)]


def simulate_early_comers(people, *, seed, share, years=3):
    """Return the pasts of people with one ear each, a share of whom come once it is blocked."""
    rng = random.Random(seed)
    return [past(_early(rng, share, 365 * years), []) for _ in range(people)]


def _early(rng, share, until):
    rate = rng.gammavariate(1 / FRAILTY, FRAILTY)
    looks, day, cleared = [Look(OPENED, "occluding", "none")], 0, 0
    while True:
        back = cleared + SCALE_DAYS * (rng.expovariate(1.0) / rate) ** (1 / SHAPE)
        while day < back:
            day += rng.randint(60, 300)
            if day > back and rng.random() < share:
                day = min(day, int(back) + rng.randint(1, 14))
            if day >= until:
                return looks
            found = "partial" if back <= day else "none"
            looks.append(Look(OPENED + timedelta(days=day), found, "none"))
        cleared = day


def _person(rng, frailty, years):
    rate = rng.gammavariate(1 / frailty, frailty) if frailty else 1.0

    def gap():
        return SCALE_DAYS * (rng.expovariate(1.0) / rate) ** (1 / SHAPE)

    days = [0]
    while days[-1] < 365 * years:
        days.append(days[-1] + rng.randint(60, 300))
    days.pop()
    right, left = _ear(days, gap), _ear(days, gap)
    return Simulated(right, left, past(right, left), [gap(), gap()])


def _ear(days, gap):
    looks, back = [Look(OPENED, "occluding", "none")], gap()
    for day in days[1:]:
        found = "partial" if back <= day else "none"
        looks.append(Look(OPENED + timedelta(days=day), found, "none"))
        if back <= day:
            back = day + gap()
    return looks
