"""How long wax takes to come back across a practice, and how people differ.

The population is an explicit, dated input of every forecast: the same file gives
the same dates, and a new fit changes nothing by itself.

Two assumptions to know. Both ears of a person share one rate. And looks are taken to
come on days that have nothing to do with the wax: people who come *because* they are
blocked make gaps look shorter than they are (by about a tenth where a third of the
blocked do so, in a simulated practice), so checks come sooner, not later.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from math import exp, log
from typing import Annotated, Literal

import msgspec

from recall.cycle.likelihood import Likelihood, Person, person
from recall.cycle.maximum import Peak, maximum
from recall.cycle.spells import Spell
from recall.errors import InputError

SPELLS_ENOUGH = 8_000
"""Beyond so many spells people are sampled evenly: shape and scale are known to 2 in 100."""
RETURNS_NEEDED = 30
PAIRS_NEEDED = 20
"""People with two gaps, at least one of them ended: they show how people differ."""
_SPREAD_ALLOWED = 0.5
"""Largest standard error of log shape and log scale."""
_HARDLY_ANY = 1e-3
"""A fitted frailty below this is no difference between people."""


class Population(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A Weibull distribution of gaps with a gamma rate per person, fitted on a day."""

    shape: Annotated[float, msgspec.Meta(gt=0, le=20)]
    scale_days: Annotated[float, msgspec.Meta(ge=1)]
    frailty: Annotated[float, msgspec.Meta(ge=0)]
    """Variance of the rate between people; 0 is none."""
    fitted_on: date
    people: Annotated[int, msgspec.Meta(ge=0)]
    spells: Annotated[int, msgspec.Meta(ge=0)]
    population_version: Literal[1] = 1

    def hazard(self, days: float) -> float:
        """Return the cumulative hazard of an average person after so many days."""
        return float((days / self.scale_days) ** self.shape)

    def days(self, hazard: float) -> float:
        """Return after how many days an average person's cumulative hazard is reached."""
        return float(self.scale_days * hazard ** (1.0 / self.shape))


class Fit(msgspec.Struct, frozen=True):
    """A fitted population, or why there is none."""

    population: Population | None
    reason: str = ""
    log_likelihood: float | None = None


def fit(
    people: Iterable[Iterable[Spell]],
    fitted_on: date,
    *,
    shape: float | None = None,
    frailty: float | None = None,
) -> Fit:
    """Return the population under which these people's spells are most probable.

    Args:
        people: each person's spells, both ears together.
        fitted_on: the day to write on it.
        shape: a shape to keep fixed (1 is a constant risk).
        frailty: a frailty to keep fixed (0 is no difference between people).
    """
    persons = sorted(p for p in map(person, people) if p[0] or p[1])
    if reason := _too_little(persons, frailty):
        return Fit(None, reason)
    spells = sum(len(lived) + len(back) for lived, back in persons)
    chosen = _evenly(persons, max(1, len(persons) * SPELLS_ENOUGH // max(spells, SPELLS_ENOUGH)))
    peak, values = _climb(chosen, shape, frailty)
    found_shape, scale, found_frailty = values
    known = 2 if shape is None else 1  # how people differ may stay vague; how gaps do may not
    if peak.spread is None or max(peak.spread[:known]) > _SPREAD_ALLOWED:
        return Fit(None, "The looks lie too much alike to tell how gaps are spread.", peak.value)
    population = Population(
        shape=found_shape,
        scale_days=scale,
        frailty=found_frailty,
        fitted_on=fitted_on,
        people=len(chosen),
        spells=sum(len(lived) + len(back) for lived, back in chosen),
    )
    return Fit(population, "", peak.value)


def _too_little(persons: Sequence[Person], frailty: float | None) -> str:
    returns = sum(len(back) for _, back in persons)
    if returns < RETURNS_NEEDED:
        return f"Too little data: wax has come back {returns} times, {RETURNS_NEEDED} are needed."
    pairs = sum(bool(back) and len(lived) + len(back) > 1 for lived, back in persons)
    if frailty is None and pairs < PAIRS_NEEDED:
        return f"Too little data: {pairs} people have two gaps, {PAIRS_NEEDED} are needed."
    return ""


def _evenly(persons: Sequence[Person], at_most: int) -> Sequence[Person]:
    """Return at most so many, spread evenly over the sorted whole: no chance is involved."""
    if len(persons) <= at_most:
        return persons
    return [persons[i * len(persons) // at_most] for i in range(at_most)]


def _climb(
    persons: Sequence[Person], shape: float | None, frailty: float | None
) -> tuple[Peak, tuple[float, float, float]]:
    """Return the peak and (shape, scale, frailty): first on a few people, then on all."""
    few, everyone = Likelihood(_evenly(persons, 300)), Likelihood(persons)
    start = [log(_rough_scale(persons)), log(1.3), log(0.3)]
    if frailty is None:
        if shape is None:
            rough, _ = _peak(few, start, None, None)
            start = list(rough.at) if rough.at[2] > log(_HARDLY_ANY) else start
        peak, values = _peak(everyone, start, shape, None)
        if values[2] > _HARDLY_ANY:
            return peak, values
        frailty = 0.0
    return _peak(everyone, start, shape, frailty)


def _peak(
    likelihood: Likelihood, start: Sequence[float], shape: float | None, frailty: float | None
) -> tuple[Peak, tuple[float, float, float]]:
    """Climb over the logarithms of what is not kept fixed, kept within bounds that make sense."""
    fixed = (None, shape, frailty)
    free = [i for i in range(3) if fixed[i] is None]

    def values(at: Sequence[float]) -> tuple[float, float, float]:
        scale, bend, theta = (0.0 if v is None else v for v in fixed)
        for i, x in zip(free, at, strict=True):
            if i == 0:
                scale = exp(min(max(x, 0.0), 14.0))
            elif i == 1:
                bend = exp(min(max(x, -2.5), 2.5))
            else:
                theta = exp(min(max(x, -10.0), 3.0))
        return bend, scale, theta

    peak = maximum(lambda at: likelihood(*values(at)), [start[i] for i in free])
    return peak, values(peak.at)


def _rough_scale(persons: Sequence[Person]) -> float:
    """Return days lived clear for each return, taking the middle of the interval."""
    lived = sum(sum(days) for days, _ in persons)
    returns = [(low + high) / 2.0 for _, back in persons for low, high in back]
    return max(1.0, (lived + sum(returns)) / len(returns))


def encode(population: Population) -> bytes:
    """Return a population as JSON."""
    return msgspec.json.format(msgspec.json.encode(population), indent=2)


def decode(text: bytes) -> Population:
    """Return the population in a JSON text.

    Raises:
        InputError: the text is no population.
    """
    try:
        return msgspec.json.decode(text, type=Population)
    except msgspec.DecodeError as error:
        raise InputError(
            f"The wax population cannot be read: {error}.",
            hint="Fit it again from the register, or restore the file.",
        ) from error
