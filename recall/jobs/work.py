"""Where each job's work is; its libraries are loaded when it is done."""

from __future__ import annotations

import importlib
from collections.abc import Callable

from recall.desk.practice.job_runs import Counts, Run

Work = Callable[[Run], Counts]
MODULES: dict[str, str] = {
    "nightly": "recall.jobs.nightly",
    "letters": "recall.jobs.letters",
    "wax": "recall.jobs.wax",
    "report": "recall.jobs.report",
    "backup": "recall.jobs.backup",
}


def work_of(job: str) -> Work:
    """Return what a job does."""
    found: Work = importlib.import_module(MODULES[job]).work
    return found
