"""The ledger of jobs: one row for each job and intended day, claimed by one runner at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import func, insert, select, update
from sqlalchemy.orm import Session

from recall.errors import Conflict
from recall.records import tables
from recall.records.tables.statements import read_as, table_of, whole

SILENT = timedelta(minutes=15)
"""After so long without a sign of life a runner is taken for dead."""


@dataclass(frozen=True)
class RunRow:
    """One job for one day."""

    id: int
    job: str
    for_day: date
    state: str
    started_at: datetime
    alive_at: datetime
    finished_at: datetime | None
    runner: str
    tries: int
    counts: str
    error: str


def begin(
    session: Session, job: str, for_day: date, *, by_id: int, at: datetime, runner: str
) -> int | None:
    """Claim a job for a day; return the run's number, or None where there is nothing to do.

    Nothing is to be done where the run is finished, or another runner is alive on it. One that
    failed, or whose runner went silent, is taken over.
    """
    c = tables.JobRun
    wanted = select(whole(tables.JobRun)).where(c.job == job, c.for_day == for_day)
    row = session.scalars(wanted).one_or_none()
    if row is None:
        values = {"job": job, "for_day": for_day, "state": "running", "runner": runner}
        times = {"started_at": at, "alive_at": at, "recorded_at": at, "by_id": by_id}
        making = insert(table_of(tables.JobRun)).returning(c.id)
        return session.scalars(making, {**values, **times}).one()
    if row.state == "done" or (row.state == "running" and row.alive_at > at - SILENT):
        return None
    again = {"state": "running", "runner": runner, "alive_at": at, "error": ""}
    session.execute(
        update(table_of(tables.JobRun)).where(c.id == row.id).values(**again, tries=c.tries + 1)
    )
    return row.id


def give_up_gone(
    session: Session, job: str, for_day: date, at: datetime, is_gone: Callable[[str], bool]
) -> None:
    """Note that a run broke off whose process is known to be there no more, so that it is free."""
    c = tables.JobRun
    wanted = select(c.id, c.runner).where(c.job == job, c.for_day == for_day, c.state == "running")
    row = session.execute(wanted).one_or_none()
    if row is not None and is_gone(row.runner):
        fail(session, row.id, row.runner, at, "It broke off: its process is gone.")


def sign_of_life(session: Session, run_id: int, runner: str, at: datetime) -> None:
    """Say that the runner is still at work.

    Raises:
        Conflict: it was taken for dead, and another runner has the run.
    """
    _turn(session, run_id, runner, alive_at=at)


def finish(session: Session, run_id: int, runner: str, at: datetime, counts: str = "{}") -> None:
    """Note that a run is done, with its counts as a JSON object.

    Raises:
        Conflict: another runner has the run; nothing of this transaction may stay.
    """
    done = {"state": "done", "finished_at": at, "alive_at": at, "counts": counts, "error": ""}
    _turn(session, run_id, runner, **done)


def fail(session: Session, run_id: int, runner: str, at: datetime, error: str) -> None:
    """Note that a run failed, and why: in ids, never names.

    Raises:
        Conflict: another runner has the run.
    """
    failed = {"state": "failed", "finished_at": at, "alive_at": at, "error": error}
    _turn(session, run_id, runner, **failed)


def answered(
    session: Session, job: str, days: Sequence[date], *, by_id: int, at: datetime, counts: str
) -> None:
    """Note that one run answered for days that were missed before it."""
    if not days:
        return
    c = tables.JobRun
    wanted = select(c.for_day).where(c.job == job, c.for_day.in_(days))
    known = set(session.scalars(wanted))
    done = {"state": "done", "finished_at": at, "alive_at": at, "counts": counts, "error": ""}
    session.execute(
        update(table_of(tables.JobRun)).where(c.job == job, c.for_day.in_(days)).values(**done)
    )
    made = {"job": job, "runner": "", "started_at": at, "recorded_at": at, "by_id": by_id}
    rows = [{**made, **done, "for_day": day} for day in days if day not in known]
    if rows:
        session.execute(insert(table_of(tables.JobRun)), rows)


def _turn(session: Session, run_id: int, runner: str, **values: Any) -> None:
    """Change a run that is this runner's own."""
    own = (
        tables.JobRun.id == run_id,
        tables.JobRun.runner == runner,
        tables.JobRun.state == "running",
    )
    changed = (
        update(table_of(tables.JobRun)).where(*own).values(**values).returning(tables.JobRun.id)
    )
    if session.scalar(changed) is None:
        raise Conflict(
            f"Run {run_id} was taken over by another runner.",
            hint="Nothing of it was kept here; the other one does it.",
        )


def days_done(session: Session, job: str) -> tuple[date | None, frozenset[date]]:
    """Return the first intended day that a job has a row for, and every day it has done."""
    wanted = select(tables.JobRun.for_day, tables.JobRun.state).where(tables.JobRun.job == job)
    rows = session.execute(wanted.order_by(tables.JobRun.for_day)).all()
    first = rows[0].for_day if rows else None
    return first, frozenset(row.for_day for row in rows if row.state == "done")


def last_done(session: Session, job: str) -> date | None:
    """Return the last intended day that a job has done."""
    wanted = select(func.max(tables.JobRun.for_day)).where(
        tables.JobRun.job == job, tables.JobRun.state == "done"
    )
    return session.scalar(wanted)


def runs(session: Session, job: str, limit: int = 30) -> tuple[RunRow, ...]:
    """Return a job's runs, the latest intended day first."""
    wanted = (
        select(read_as(RunRow, tables.JobRun))
        .where(tables.JobRun.job == job)
        .order_by(tables.JobRun.for_day.desc())
    )
    return tuple(session.scalars(wanted.limit(limit)))
