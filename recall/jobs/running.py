"""Running what is due, once, in order, whatever was missed and however many runners there are.

The ledger in the register is the truth: a run is claimed there, done there, and taken over
there from a runner that went silent. Nothing here remembers anything.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from recall.clock import Clock
from recall.config import Config
from recall.desk.core.proof import Way
from recall.desk.core.session import JOBS as JOBS_HANDLE
from recall.desk.core.session import Desk, open_desk, populations
from recall.desk.practice.job_runs import Counts, DueRun, Run, claim, due_runs
from recall.desk.practice.runners import this_runner
from recall.desk.practice.timetable import JOBS
from recall.desk.signing.proofs import by_jobs_account
from recall.errors import Conflict, InputError, RecallError
from recall.jobs.work import work_of

State = Literal["done", "failed", "with_another", "done_before"]
Stop = Callable[[], bool]


@dataclass(frozen=True)
class Ran:
    """What came of one run."""

    job: str
    for_day: date
    state: State
    counts: Counts
    error: str = ""
    answered: tuple[date, ...] = ()
    """Days missed earlier for which it answered too."""
    cause: Exception | None = None
    """What went wrong, where it was nothing that a sentence for a person says."""


def run_due(config: Config, clock: Clock | None = None, *, stop: Stop = lambda: False) -> list[Ran]:
    """Run everything whose moment has come, in the order of the moments; return what ran.

    A run that fails is tried again the next time; the others go on.

    Args:
        config: the practice's settings.
        clock: the machine's own in the practice's zone where left out; it may act for an earlier
            day, then what was due by that day's end is run.
        stop: asked before each run; the one in hand is finished.
    """
    with _desk(config, clock or Clock(config.calendar.time_zone)) as desk:
        return run_all(desk, stop=stop)


def run_all(desk: Desk, *, stop: Stop = lambda: False) -> list[Ran]:
    """Run everything that is due at an open desk; see `run_due`."""
    found: list[Ran] = []
    for due in due_runs(desk):
        if stop():
            break
        found.append(run_one(desk, due))
    return found


def run_on(config: Config, name: str, on: date | None = None) -> Ran:
    """Run one job for the intended day that covers a day, acting on that day.

    Raises:
        InputError: there is no such job.
    """
    if name not in JOBS:
        raise InputError(f"There is no job {name!r}.", hint=f"It may be: {', '.join(JOBS)}.")
    zone = config.calendar.time_zone
    clock = Clock(zone).acting_for(on)
    when = JOBS[name].when(config.jobs)
    with _desk(config, clock) as desk:
        return run_one(desk, DueRun(JOBS[name], when.last_by(clock.today())))


def run_one(desk: Desk, due: DueRun) -> Ran:
    """Claim a run and do it; a failure is entered, not raised."""
    runner = this_runner()
    job, day = due.job.name, due.for_day
    fresh = replace(desk, populations=populations(desk.store))
    run = claim(fresh, due, runner)
    if not isinstance(run, Run):
        return Ran(job, day, run, {})
    try:
        counts = work_of(job)(run)
        run.end(counts)
    except RecallError as error:
        entered = run.failed(str(error))
        lost = isinstance(error, Conflict) and not entered
        return Ran(job, day, "with_another" if lost else "failed", {}, str(error))
    except Exception as error:
        said = f"Something unexpected went wrong ({type(error).__name__})."
        run.failed(said)
        return Ran(job, day, "failed", {}, said, cause=error)
    return Ran(job, day, "done", counts, answered=due.earlier)


@contextmanager
def _desk(config: Config, clock: Clock) -> Iterator[Desk]:
    """Open the desk that the jobs act at, by this clock."""
    opened = open_desk(
        config, by=JOBS_HANDLE, on=clock.on, clock=clock, way=Way("job", by_jobs_account)
    )
    try:
        yield opened.looking_ahead()
    finally:
        opened.close()
