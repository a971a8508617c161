"""Running what is due, once, in order, whatever was missed and however many runners there are.

The ledger in the register is the truth: a run is claimed there, done there, and taken over
there from a runner that went silent. Nothing here remembers anything.
"""

from __future__ import annotations

import os
import secrets
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Literal

from recall.clock import Clock
from recall.config import Config
from recall.desk.session import JOBS as JOBS_HANDLE
from recall.desk.session import Desk, open_desk
from recall.desk.timetable import JOBS, Job, days_due
from recall.errors import Conflict, InputError, RecallError
from recall.jobs.work import Counts, Run, work_of
from recall.records import job_runs

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
        clock: the machine's own in the practice's zone where left out.
        stop: asked before each run; the one in hand is finished.
    """
    clock = clock or Clock(config.calendar.time_zone)
    found: list[Ran] = []
    for job, day, earlier in _due(config, clock):
        if stop():
            break
        found.append(run_one(config, job, day, clock, earlier))
    return found


def run_on(config: Config, name: str, on: date | None = None) -> Ran:
    """Run one job for the intended day that covers a day, acting on that day.

    Raises:
        InputError: there is no such job.
    """
    if name not in JOBS:
        raise InputError(f"There is no job {name!r}.", hint=f"It may be: {', '.join(JOBS)}.")
    zone = config.calendar.time_zone
    clock = Clock.at(on, zone) if on else Clock(zone)
    when = JOBS[name].when(config.jobs)
    return run_one(config, JOBS[name], when.last_by(clock.today()), clock)


def run_one(
    config: Config, job: Job, day: date, clock: Clock, earlier: tuple[date, ...] = ()
) -> Ran:
    """Claim a job for an intended day and do it; a failure is entered, not raised."""
    runner = f"{socket.gethostname()}:{os.getpid()}:{secrets.token_hex(4)}"
    with _desk(config, clock) as desk:
        claimed = _claim(desk, job, day, runner)
        if not isinstance(claimed, int):
            return Ran(job.name, day, claimed, {})
        run = Run(desk, job.name, day, claimed, runner, earlier)
        try:
            counts = work_of(job.name)(run)
            if not run.is_done:
                with desk.store.write() as session:
                    run.done(session, counts)
        except Conflict as error:
            return Ran(job.name, day, "with_another", {}, str(error))
        except RecallError as error:
            _enter_failure(run, str(error))
            return Ran(job.name, day, "failed", {}, str(error))
        except Exception as error:
            said = f"Something unexpected went wrong ({type(error).__name__})."
            _enter_failure(run, said)
            return Ran(job.name, day, "failed", {}, said, cause=error)
        return Ran(job.name, day, "done", counts, answered=earlier)


def _claim(desk: Desk, job: Job, day: date, runner: str) -> int | State:
    """Return the run's number, or why there is nothing to do."""
    with desk.store.write() as session:
        number = job_runs.begin(
            session, job.name, day, by_id=desk.by.id, at=desk.now, runner=runner
        )
        if number is not None:
            return number
        _first, done = job_runs.days_done(session, job.name)
        return "done_before" if day in done else "with_another"


def _enter_failure(run: Run, said: str) -> None:
    """Enter that a run failed, so that it is tried again without waiting for its silence."""
    with suppress(RecallError), run.desk.store.write() as session:
        job_runs.fail(session, run.id, run.runner, run.desk.now, said)


def _due(config: Config, clock: Clock) -> list[tuple[Job, date, tuple[date, ...]]]:
    """Return what is due, by the moment at which it was to begin."""
    zone = config.calendar.time_zone
    found: list[tuple[datetime, Job, date, tuple[date, ...]]] = []
    with _desk(config, clock) as desk, desk.store.read() as session:
        for job in JOBS.values():
            when = job.when(config.jobs)
            days = days_due(job, config, desk.now, *job_runs.days_done(session, job.name))
            if job.answers_earlier and days:
                found.append((when.moment(days[-1], zone), job, days[-1], days[:-1]))
            else:
                found += [(when.moment(day, zone), job, day, ()) for day in days]
    ordered = sorted(found, key=lambda due: due[0])
    return [(job, day, earlier) for _moment, job, day, earlier in ordered]


@contextmanager
def _desk(config: Config, clock: Clock) -> Iterator[Desk]:
    """Open the desk that the jobs act at, by this clock."""
    opened = open_desk(config, by=JOBS_HANDLE, on=clock.today())
    try:
        yield replace(opened, clock=clock)
    finally:
        opened.close()
