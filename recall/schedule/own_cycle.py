"""The person's own wax cycle at a visit: worked out once, whichever rules then ask by it."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from recall.care.case import Visit
from recall.care.ear import SIDES, Side
from recall.cycle.forecast import Forecast, TooLittle, forecast
from recall.cycle.population import Population
from recall.cycle.spells import clear_since, looks, past

Populations = Population | tuple[Population, ...] | None
"""One, for whatever day; or several as they were worked out, so that each visit keeps its own."""


class OwnCycle(msgspec.Struct, frozen=True):
    """How wax comes back in a person, and for how long an ear has been clear already."""

    forecast: Forecast | TooLittle
    clear_for_days: int = 0


def own_cycles(visits: Sequence[Visit], populations: Populations) -> dict[Side, OwnCycle]:
    """Return the person's cycle for each ear at the last of some visits; none without data."""
    on = visits[-1].on
    if isinstance(populations, tuple):
        known = [p for p in populations if p.fitted_on <= on]
        population = known[-1] if known else None
    else:
        population = populations
    if population is None:
        return {}
    seen = {side: looks(visits, side) for side in SIDES}
    found = forecast(past(seen["right"], seen["left"]), population)
    since = {side: clear_since(seen[side]) or on for side in SIDES}
    return {side: OwnCycle(found, (on - since[side]).days) for side in SIDES}
