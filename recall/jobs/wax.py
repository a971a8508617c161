"""The month's fit: how wax comes back in this practice."""

from __future__ import annotations

from recall.desk.wax_population import fit_population, keep_population
from recall.jobs.work import Counts, Run


def work(run: Run) -> Counts:
    """Fit the population; keeping it and ending the run are one transaction."""
    found = fit_population(run.desk, run.for_day, run.progress)
    counts: Counts = {"kept": found.population is not None, "because": found.reason}
    with run.desk.store.write() as session:
        keep_population(run.desk, session, found)
        run.done(session, counts)
    return counts
