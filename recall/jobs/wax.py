"""The month's fit: how wax comes back in this practice."""

from __future__ import annotations

from typing import Any

from recall.cycle.population import Fit
from recall.desk.plans.wax_population import refit
from recall.desk.practice.job_runs import Counts, Run


def work(run: Run) -> Counts:
    """Fit the population; keeping it and ending the run are one transaction."""
    counts: Counts = {}

    def ending(session: Any, found: Fit) -> None:
        counts.update(kept=found.population is not None, because=found.reason)
        run.done(session, counts)

    refit(run.desk, run.for_day, run.progress, ending)
    return counts
