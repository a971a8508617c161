"""Each job's work is `work` of the module with its name, loaded when it is done."""

from __future__ import annotations

import importlib
from collections.abc import Callable

from recall.desk.practice.job_runs import Counts, Run

Work = Callable[[Run], Counts]


def work_of(job: str) -> Work:
    """Return what a job does."""
    found: Work = importlib.import_module(f"recall.jobs.{job}").work
    return found
