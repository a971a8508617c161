"""When each job runs: intended days in the practice's own time, from the configuration.

A job has one run for each intended day, whenever that comes about. Times lie between 05:00 and
22:00 (the configuration refuses others), so that no clock change skips or repeats one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from recall.config import WEEKDAYS, Config
from recall.config import Jobs as Times

_DAY = timedelta(days=1)


@dataclass(frozen=True)
class When:
    """A time of day, on every day, one day of the week, or one day of the month."""

    at: time
    weekday: int | None = None
    """Monday is 0."""
    month_day: int | None = None

    def holds(self, day: date) -> bool:
        """Return whether a day is one of the intended days."""
        if self.weekday is not None:
            return day.weekday() == self.weekday
        return self.month_day is None or day.day == self.month_day

    def moment(self, day: date, zone: str) -> datetime:
        """Return the instant at which an intended day's run is to begin."""
        return datetime.combine(day, self.at, ZoneInfo(zone))

    def last_by(self, day: date) -> date:
        """Return the last intended day up to a day: the run that covers it."""
        while not self.holds(day):
            day -= _DAY
        return day

    def days(self, first: date, last: date) -> Iterator[date]:
        """Give the intended days between two days, both included, in order."""
        day = first
        while day <= last:
            if self.holds(day):
                yield day
            day += _DAY


@dataclass(frozen=True)
class Job:
    """One job: what it does, when, and whether one run answers for days missed before it."""

    name: str
    says: str
    when: Callable[[Times], When]
    answers_earlier: bool = False
    """What it does for a missed day is what it does for the newest: look, or copy, as it is now."""


def _daily(at: str) -> When:
    return When(time.fromisoformat(at))


def _monthly(times: Times) -> When:
    return When(time.fromisoformat(times.report_at), month_day=times.report_day)


JOBS: dict[str, Job] = {
    job.name: job
    for job in (
        Job(
            "nightly",
            "The safety check over the whole register, and the day's lists.",
            lambda times: _daily(times.nightly_at),
            answers_earlier=True,
        ),
        Job(
            "letters",
            "The week's letters: text, PDF and list.",
            lambda times: When(
                time.fromisoformat(times.letters_at), weekday=WEEKDAYS.index(times.letters_on)
            ),
        ),
        Job("wax", "How wax comes back in this practice, worked out again.", _monthly),
        Job("report", "The register's month in numbers, as CSV and text.", _monthly),
        Job(
            "backup",
            "A checked copy of the database.",
            lambda times: _daily(times.backup_at),
            answers_earlier=True,
        ),
    )
}
"""Every job, in the order in which those of one moment run."""


def next_run(job: Job, config: Config, now: datetime) -> datetime:
    """Return when a job is to run next after an instant."""
    when, zone = job.when(config.jobs), config.calendar.time_zone
    day = now.astimezone(ZoneInfo(zone)).date()
    while not when.holds(day) or when.moment(day, zone) <= now:
        day += _DAY
    return when.moment(day, zone)


def days_due(
    job: Job, config: Config, now: datetime, first: date | None, done: frozenset[date]
) -> tuple[date, ...]:
    """Return the intended days whose moment has come and that are not done, in order.

    Before a job's first run only the last of them counts: nothing was missed before the start.
    """
    when, zone = job.when(config.jobs), config.calendar.time_zone
    last = when.last_by(now.astimezone(ZoneInfo(zone)).date())
    if when.moment(last, zone) > now:
        last = when.last_by(last - _DAY)
    if first is None:
        return (last,)
    return tuple(day for day in when.days(first, last) if day not in done)
