"""The ledger of jobs: one row for each job and intended day, claimed by one runner at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import func, insert, select, update
from sqlalchemy.orm import Session

from recall.errors import Conflict
from recall.records import tables

SILENT = timedelta(minutes=15)
"""After so long without a sign of life a runner is taken for dead."""
_run: Any = tables.JobRun.__table__


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
    c = _run.c
    row = session.execute(select(_run).where(c.job == job, c.for_day == for_day)).one_or_none()
    if row is None:
        values = {"job": job, "for_day": for_day, "state": "running", "runner": runner}
        times = {"started_at": at, "alive_at": at, "recorded_at": at, "by_id": by_id}
        made: int = session.scalars(insert(_run).returning(c.id), {**values, **times}).one()
        return made
    if row.state == "done" or (row.state == "running" and row.alive_at > at - SILENT):
        return None
    again = {"state": "running", "runner": runner, "alive_at": at, "error": ""}
    session.execute(update(_run).where(c.id == row.id).values(**again, tries=c.tries + 1))
    number: int = row.id
    return number


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
    c = _run.c
    wanted = select(c.for_day).where(c.job == job, c.for_day.in_(days))
    known = set(session.scalars(wanted))
    done = {"state": "done", "finished_at": at, "alive_at": at, "counts": counts, "error": ""}
    session.execute(update(_run).where(c.job == job, c.for_day.in_(days)).values(**done))
    made = {"job": job, "runner": "", "started_at": at, "recorded_at": at, "by_id": by_id}
    rows = [{**made, **done, "for_day": day} for day in days if day not in known]
    if rows:
        session.execute(insert(_run), rows)


def _turn(session: Session, run_id: int, runner: str, **values: Any) -> None:
    """Change a run that is this runner's own."""
    own = _run.c.id == run_id, _run.c.runner == runner, _run.c.state == "running"
    changed = update(_run).where(*own).values(**values).returning(_run.c.id)
    if session.scalar(changed) is None:
        raise Conflict(
            f"Run {run_id} was taken over by another runner.",
            hint="Nothing of it was kept here; the other one does it.",
        )


def days_done(session: Session, job: str) -> tuple[date | None, frozenset[date]]:
    """Return the first intended day that a job has a row for, and every day it has done."""
    wanted = select(_run.c.for_day, _run.c.state).where(_run.c.job == job)
    rows = session.execute(wanted.order_by(_run.c.for_day)).all()
    first = rows[0].for_day if rows else None
    return first, frozenset(row.for_day for row in rows if row.state == "done")


def last_done(session: Session, job: str) -> date | None:
    """Return the last intended day that a job has done."""
    wanted = select(func.max(_run.c.for_day)).where(_run.c.job == job, _run.c.state == "done")
    found: date | None = session.scalar(wanted)
    return found


def runs(session: Session, job: str, limit: int = 30) -> tuple[RunRow, ...]:
    """Return a job's runs, the latest intended day first."""
    columns = [_run.c[name] for name in RunRow.__dataclass_fields__]
    wanted = select(*columns).where(_run.c.job == job).order_by(_run.c.for_day.desc()).limit(limit)
    return tuple(RunRow(**row._mapping) for row in session.execute(wanted))
