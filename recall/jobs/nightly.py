"""The night: finish what planning left over, bring the lists up to date, check everything."""

from __future__ import annotations

from recall.desk.core.replanning import replan
from recall.desk.oversight import failsafe
from recall.desk.plans.passing_time import bring_up_to_date
from recall.desk.practice.job_runs import Counts, Run


def work(run: Run) -> Counts:
    """Do the night's work; what the check found and the end of the run are one transaction."""
    run.desk.store.look_through()  # planning would stumble over what the check reports
    counts: Counts = {"planned": replan(run.desk, run.progress).people}
    counts["steps_turned"] = bring_up_to_date(run.desk, run.progress)
    found = failsafe.run(
        run.desk,
        run.progress,
        run.id,
        ending=lambda session, found: run.done(session, {**counts, "failsafe_found": found}),
    )
    return {**counts, "failsafe_found": len(found.findings)}
