"""The day's lists on paper's terms, for a morning without the machine."""

from __future__ import annotations

from recall.desk.oversight.morning_papers import write_papers
from recall.desk.practice.job_runs import Counts, Run


def work(run: Run) -> Counts:
    """Write today's lists, whichever day was missed: yesterday's help nobody."""
    return {"file": write_papers(run.desk).name}
