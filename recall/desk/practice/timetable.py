"""When each job runs: intended days in the practice's own time, from the configuration.

A job has one run for each intended day, whenever that comes about. Times lie between 05:00 and
22:00 (the configuration refuses others), so that no clock change skips or repeats one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from recall.config import WEEKDAYS, Config
from recall.config import Jobs as Times

if TYPE_CHECKING:
    from dateutil.rrule import rrule

_DAY = timedelta(days=1)
_LONGEST = timedelta(days=31)
"""From one intended day to the next, at most: a month's days lie before the 29th."""


@dataclass(frozen=True)
class When:
    """A time of day, on every day, one day of the week, or one day of the month."""

    at: time
    weekday: int | None = None
    """Monday is 0."""
    month_day: int | None = None

    def moment(self, day: date, zone: str) -> datetime:
        """Return the instant at which an intended day's run is to begin."""
        return datetime.combine(day, self.at, ZoneInfo(zone))

    def last_by(self, day: date) -> date:
        """Return the last intended day up to a day: the run that covers it."""
        return max(self.days(day - _LONGEST, day))

    def days(self, first: date, last: date) -> Iterator[date]:
        """Give the intended days between two days, both included, in order."""
        return (at.date() for at in self._from(first, until=last))

    def next_after(self, now: datetime, zone: str) -> datetime:
        """Return the first moment of an intended day after an instant."""
        today = now.astimezone(ZoneInfo(zone)).date()
        moments = (self.moment(at.date(), zone) for at in self._from(today))
        return next(moment for moment in moments if moment > now)

    def _from(self, first: date, until: date | None = None) -> rrule:
        """Return the intended days from a day on, as a rule of recurrence."""
        from dateutil.rrule import DAILY, rrule

        return rrule(
            DAILY,
            dtstart=first,
            until=until,
            byweekday=self.weekday,
            bymonthday=self.month_day,
        )


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
            "papers",
            "The day's lists on paper's terms, for a morning without the machine.",
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
        Job("report", "The register's month in numbers, as CSV, text and PDF.", _monthly),
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
    return job.when(config.jobs).next_after(now, config.calendar.time_zone)


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
