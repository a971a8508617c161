"""Where the jobs stand: last and next runs, and what every list announces when one is late."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.practice.runners import is_gone
from recall.desk.practice.timetable import JOBS, Job, days_due, next_run
from recall.records.journal import job_ledger
from recall.records.journal.job_ledger import SILENT, RunRow
from recall.schedule.calendar import say_day

LATE_AFTER = timedelta(days=1)
NEVER_RAN = "The jobs have never run here. Start them: recall jobs serve."


@dataclass(frozen=True)
class JobHealth:
    """Where one job stands."""

    job: str
    says: str
    last: RunRow | None
    """The run for the latest intended day, whatever became of it."""
    last_done: date | None
    waiting: tuple[date, ...]
    """Intended days whose moment has come and that are not done."""
    late_since: datetime | None
    """The moment of the oldest of them, once it is a day ago; of a job that never ran, of the
    first one since any job ran here."""
    next_at: datetime
    is_gone: bool = False
    """Its last run began and has no end, and the process is there no more or says nothing."""

    @property
    def needs_saying(self) -> bool:
        """Return whether everybody is told: it failed or broke off, at once; it is late."""
        failed = self.last is not None and self.last.state == "failed"
        return failed or self.is_gone or self.late_since is not None

    @property
    def state(self) -> str:
        """Return the state in a word or two."""
        if self.is_gone:
            return "gone"
        if self.last is None:
            return "never ran"
        if self.late_since is not None:
            return "late"
        return "waiting" if self.last.state == "done" and self.waiting else self.last.state


@needs(Right.LOOK)
def jobs_health(desk: Desk) -> tuple[JobHealth, ...]:
    """Return where every job stands, in the order of the table."""
    with desk.store.read() as session:
        firsts = [job_ledger.days_done(session, name)[0] for name in JOBS]
    began = min((day for day in firsts if day is not None), default=None)
    return tuple(_health(desk, job, began) for job in JOBS.values())


@needs(Right.LOOK)
def announcements(desk: Desk) -> tuple[str, ...]:
    """Return what every list says about the jobs: nothing while they run in time."""
    health = jobs_health(desk)
    if all(found.last is None for found in health):
        return (NEVER_RAN,)
    return tuple(_announced(desk, found) for found in health if found.needs_saying)


def _health(desk: Desk, job: Job, began: date | None) -> JobHealth:
    with desk.store.read() as session:
        first, done = job_ledger.days_done(session, job.name)
        rows = job_ledger.runs(session, job.name, limit=1)
    now = desk.clock.reached()
    waiting = days_due(job, desk.config, now, first, done)
    zone = desk.config.calendar.time_zone
    # A job that never ran where others do is missed since they began, not before.
    missed = waiting if first or not began else days_due(job, desk.config, now, began, done)
    late_since = None
    if missed and began is not None:
        moment = job.when(desk.config.jobs).moment(missed[0], zone)
        late_since = moment if now - moment >= LATE_AFTER else None
    last = rows[0] if rows else None
    silent = last is not None and last.state == "running"
    gone = last is not None and (last.alive_at <= desk.now - SILENT or is_gone(last.runner))
    return JobHealth(
        job=job.name,
        says=job.says,
        last=last,
        last_done=max(done, default=None),
        waiting=waiting,
        late_since=late_since,
        next_at=next_run(job, desk.config, now),
        is_gone=silent and gone,
    )


def _announced(desk: Desk, found: JobHealth) -> str:
    last_run = found.last
    if last_run is None and found.late_since is not None:
        since = say_day(desk.clock.day_of(found.late_since))
        return f"The job {found.job} has never run here; it is due since {since}. See recall jobs."
    if found.late_since is None and last_run is not None:
        day = say_day(last_run.for_day)
        if found.is_gone:
            return f"The job {found.job} for {day} broke off: its process is gone. See recall jobs."
        return f"The job {found.job} for {day} failed: {last_run.error} See recall jobs."
    days = len(found.waiting)
    since = say_day(found.waiting[0])
    last = f"last done for {say_day(found.last_done)}" if found.last_done else "never done"
    missed = f"{days} run(s) waiting" if days > 1 else "one run waiting"
    why = f" It failed: {found.last.error}" if found.last and found.last.state == "failed" else ""
    return f"The job {found.job} is late since {since} ({missed}, {last}).{why} See recall jobs."
