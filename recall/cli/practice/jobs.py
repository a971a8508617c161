"""`recall jobs`: run what is due, serve, and say where it stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import click

from recall.cli.shared.common import (
    acting,
    as_data,
    desk,
    emit,
    emit_data,
    in_config,
    on_day,
    say,
    settings,
)

if TYPE_CHECKING:
    from datetime import datetime

    from recall.desk.oversight.job_health import JobHealth


@dataclass(frozen=True)
class StatusRow:
    """Where one job stands, as data."""

    job: str
    state: str
    last_done: date | None
    finished: str
    tries: int
    waiting: int
    next: str
    error: str


@click.group()
def jobs() -> None:
    """The jobs that run by themselves: nightly, papers, letters, wax, report, backup."""


@jobs.command()
@in_config
def serve(config: Path | None) -> None:
    """Run every job at its time until stopped; first what was missed.

    One such runner is enough. A second one stops at once, and doubles nothing.
    """
    from recall.jobs.runner import serve as serve_jobs
    from recall.jobs.runner import to_stderr

    serve_jobs(settings(config), to_stderr)


@jobs.command()
@click.argument("name", required=False)
@in_config
@on_day
def run(name: str | None, config: Path | None, on: date | None) -> int:
    """Run one job for the day that --on names, or without NAME everything that is due.

    What was done already is not done again. Without a runner, let the machine's own timer start
    this every hour.
    """
    from recall.clock import Clock
    from recall.jobs.runner import said
    from recall.jobs.running import run_due, run_on

    practice = settings(config)
    zone = practice.calendar.time_zone
    if name:
        ran = [run_on(practice, name, on)]
    else:
        ran = run_due(practice, Clock(zone).acting_for(on))
    for one in ran:
        say(said(one))
    for one in ran:
        if one.cause is not None:
            raise one.cause
    if not ran:
        say("Nothing is due.")
    return 1 if any(one.state == "failed" for one in ran) else 0


@jobs.command()
@acting
@as_data
def status(config: Path | None, by: str | None, on: date | None, form: str | None) -> None:
    """Say for each job when it last ran, what waits, and when it runs next."""
    from recall.desk.oversight.job_health import announcements, jobs_health

    with desk(config, by, on, reading=True) as opened:
        zone = ZoneInfo(opened.config.calendar.time_zone)
        found = jobs_health(opened)
        for line in announcements(opened):
            say(line)
    rows = [_row(one, zone) for one in found]
    if form:
        emit_data(form, StatusRow, rows)
    else:
        for one in found:
            emit(_line(one, zone))


def _row(found: JobHealth, zone: ZoneInfo) -> StatusRow:
    last = found.last
    return StatusRow(
        job=found.job,
        state=found.state,
        last_done=found.last_done,
        finished=_local(last.finished_at, zone) if last else "",
        tries=last.tries if last else 0,
        waiting=len(found.waiting),
        next=_local(found.next_at, zone),
        error=last.error if last else "",
    )


def _line(found: JobHealth, zone: ZoneInfo) -> str:
    done = f"last for {found.last_done}" if found.last_done else "not done yet"
    line = f"{found.job:<9}{found.state:<11}{done:<21}next {_local(found.next_at, zone)}\n"
    if len(found.waiting) > 1:
        line += f"         {len(found.waiting)} runs wait, the oldest for {found.waiting[0]}\n"
    if found.last and found.last.error:
        line += f"         {found.last.error}\n"
    return line


def _local(at: datetime | None, zone: ZoneInfo) -> str:
    return f"{at.astimezone(zone):%Y-%m-%d %H:%M}" if at else ""
