"""How the random properties are run: with a fixed seed in the suite, at random by hand.

In the suite a property draws the same examples each time and keeps none from the last run,
so that red always means the change in hand. `RECALL_EXAMPLES=5000 pytest tests/...` draws
that many at random instead; what it finds is kept as an `@example` beside its property.
"""

from __future__ import annotations

import os
from typing import Any

from hypothesis import HealthCheck, settings

LONG = os.environ.get("RECALL_EXAMPLES")
"""How many examples a property by hand; None in the suite."""
BY_THE_CLOCK = (HealthCheck.too_slow,)
"""What fails by how long the drawing took: on a busy machine that says nothing of the change."""


def use_fixed_seed() -> None:
    """Make the suite's way, or the long one, the default of every property that follows."""
    untimed: dict[str, Any] = {"deadline": None, "suppress_health_check": BY_THE_CLOCK}
    settings.register_profile("suite", derandomize=True, database=None, **untimed)
    settings.register_profile("long", max_examples=int(LONG or 100), **untimed)
    settings.load_profile("long" if LONG else "suite")


def examples(usual: int) -> int:
    """Return how many examples a property draws: as usual, or as many as were asked for."""
    return int(LONG) if LONG else usual
