"""Runs of the jobs, each once for its intended day: claimed, kept alive, ended in the ledger.

A job whose work is rows ends them and its own entry in one transaction (`Run.done`); one whose
work is a file makes it so that making it twice is the same as once, and is entered after.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, Literal

import msgspec
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.practice.runners import is_gone
from recall.desk.practice.timetable import JOBS, Job, days_due
from recall.errors import RecallError
from recall.records.journal import job_ledger

Counts = dict[str, Any]
NotNow = Literal["with_another", "done_before"]
_BREATH = timedelta(seconds=60)


@dataclass(frozen=True)
class DueRun:
    """A run whose moment has come."""

    job: Job
    for_day: date
    earlier: tuple[date, ...] = ()
    """Missed days for which it answers too."""


@dataclass
class Run:
    """One run in hand: for which intended day, and by which runner."""

    desk: Desk
    job: str
    for_day: date
    id: int
    runner: str
    earlier: tuple[date, ...] = ()
    is_done: bool = False
    _breathed: datetime | None = field(default=None, repr=False)

    def alive(self) -> None:
        """Give a sign of life, at most once a minute; call it between pieces of work.

        Raises:
            Conflict: the run was taken over meanwhile.
        """
        now = self.desk.now
        if self._breathed is not None and now - self._breathed < _BREATH:
            return
        self._breathed = now
        with self.desk.store.write() as session:
            job_ledger.sign_of_life(session, self.id, self.runner, now)

    def progress(self, _done: int, _of: int) -> None:
        """Take the progress of a desk function as a sign of life."""
        self.alive()

    def done(self, session: Session, counts: Counts) -> None:
        """Enter the run as done, inside the transaction that ends its work.

        Raises:
            Conflict: the run was taken over meanwhile; nothing of the transaction may stay.
        """
        at, by_id = self.desk.now, self.desk.by.id
        told = msgspec.json.encode(counts, enc_hook=str).decode()
        job_ledger.finish(session, self.id, self.runner, at, told)
        answered = msgspec.json.encode({"answered_by": self.for_day}).decode()
        job_ledger.answered(session, self.job, self.earlier, by_id=by_id, at=at, counts=answered)
        self.is_done = True

    def end(self, counts: Counts) -> None:
        """Enter the run as done, where its work has not done so itself."""
        if not self.is_done:
            with self.desk.store.write() as session:
                self.done(session, counts)

    def failed(self, said: str) -> bool:
        """Enter that it failed, so that it is tried again without waiting for its silence.

        Returns whether it could be entered: not where another runner has taken it over.
        """
        with suppress(RecallError):
            with self.desk.store.write() as session:
                job_ledger.fail(session, self.id, self.runner, self.desk.now, said)
            return True
        return False


@needs(Right.MAINTAIN)
def claim(desk: Desk, due: DueRun, runner: str) -> Run | NotNow:
    """Claim a run, or say why there is nothing to do."""
    job, day = due.job.name, due.for_day
    with desk.store.write() as session:
        job_ledger.give_up_gone(session, job, day, desk.now, is_gone)
        number = job_ledger.begin(session, job, day, by_id=desk.by.id, at=desk.now, runner=runner)
        if number is not None:
            return Run(desk, job, day, number, runner, due.earlier)
        _first, done = job_ledger.days_done(session, job)
        return "done_before" if day in done else "with_another"


@needs(Right.LOOK)
def due_runs(desk: Desk) -> list[DueRun]:
    """Return the runs whose moment has come and that are not done, by those moments."""
    zone, times = desk.config.calendar.time_zone, desk.config.jobs
    found: list[DueRun] = []
    with desk.store.read() as session:
        for job in JOBS.values():
            days = days_due(
                job, desk.config, desk.clock.reached(), *job_ledger.days_done(session, job.name)
            )
            if job.answers_earlier and days:
                found.append(DueRun(job, days[-1], days[:-1]))
            else:
                found += [DueRun(job, day) for day in days]
    return sorted(found, key=lambda due: due.job.when(times).moment(due.for_day, zone))
