"""The night: finish what planning left over, bring the lists up to date, check everything."""

from __future__ import annotations

from recall.desk.failsafe import run as failsafe
from recall.desk.passing_time import bring_up_to_date
from recall.desk.replanning import replan
from recall.jobs.work import Counts, Run


def work(run: Run) -> Counts:
    """Do the night's work; each part can be stopped anywhere and done again."""
    desk = run.desk
    planned = replan(desk, run.progress)
    run.alive()
    turned = bring_up_to_date(desk, run.progress)
    run.alive()
    found = failsafe(desk)
    return {"planned": planned.people, "steps_turned": turned, "failsafe_found": len(found)}
