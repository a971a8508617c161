"""Intended days and moments of the jobs, over clock changes, leap days and year ends.

Clock changes of the United Kingdom: the last Sundays of March and October at 01:00 UTC (Summer
Time Act 1972, as amended by SI 2002/262); of central Europe at the same instant (Directive
2000/84/EC).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import msgspec
import pytest

from recall.config import Calendar, Jobs
from recall.desk.practice.timetable import JOBS, Job, When, days_due, next_run
from recall.jobs.runner import trigger, wake_ups
from tests.desk.practice import PRACTICE

LONDON, BERLIN = ZoneInfo("Europe/London"), ZoneInfo("Europe/Berlin")
NIGHTLY, LETTERS, REPORT = JOBS["nightly"], JOBS["letters"], JOBS["report"]


def fires(when: When, zone: str, start: datetime, times: int) -> list[datetime]:
    """The instants at which a job's trigger fires from an instant on, in UTC."""
    fired = trigger(when, zone)
    found: list[datetime] = []
    last, now = None, start.astimezone(UTC)
    for _ in range(times):
        last = fired.get_next_fire_time(last, now)
        assert last is not None
        found.append(last.astimezone(UTC))
        now = found[-1] + timedelta(seconds=1)  # in UTC: a local sum would lose the fold
    return found


@pytest.mark.parametrize("zone", ["Europe/London", "Europe/Berlin"])
@pytest.mark.parametrize("around", [date(2026, 3, 29), date(2026, 10, 25)])
@pytest.mark.parametrize("at", [time(5), time(6), time(21), time(22)])
def test_a_daily_job_fires_once_a_day_at_its_wall_time_over_clock_changes(
    zone: str, around: date, at: time
) -> None:
    start = datetime.combine(around - timedelta(days=2), time(0), ZoneInfo(zone))

    found = [moment.astimezone(ZoneInfo(zone)) for moment in fires(When(at), zone, start, 5)]

    assert [moment.date() for moment in found] == [around + timedelta(days=n) for n in range(-2, 3)]
    assert {moment.time() for moment in found} == {at}


def test_the_trigger_and_the_table_agree_on_every_moment_of_five_years() -> None:
    for job in JOBS.values():
        when = job.when(Jobs())
        start = datetime(2024, 1, 1, tzinfo=LONDON)
        days = list(when.days(date(2024, 1, 1), date(2028, 12, 31)))
        wanted = [when.moment(day, "Europe/London").astimezone(UTC) for day in days]
        assert fires(when, "Europe/London", start, len(days)) == wanted, job.name


def test_leap_day_and_year_end_have_their_run() -> None:
    when = NIGHTLY.when(Jobs())
    around_leap = list(when.days(date(2028, 2, 27), date(2028, 3, 1)))
    around_year = list(when.days(date(2026, 12, 30), date(2027, 1, 2)))

    assert date(2028, 2, 29) in around_leap and len(around_leap) == 4
    assert len(around_year) == 4
    assert list(REPORT.when(Jobs()).days(date(2026, 12, 2), date(2027, 2, 1))) == [
        date(2027, 1, 1),
        date(2027, 2, 1),
    ]


def test_the_report_runs_each_month_on_its_day_february_too() -> None:
    when = REPORT.when(Jobs(report_day=28))
    assert len(list(when.days(date(2027, 1, 1), date(2027, 12, 31)))) == 12


@pytest.mark.parametrize("job", [NIGHTLY, LETTERS, REPORT])
def test_the_intended_days_are_those_that_counting_day_by_day_finds(job: Job) -> None:
    when = job.when(Jobs(report_day=28))
    first, last = date(2027, 12, 1), date(2028, 4, 30)
    each = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    wanted = [
        day
        for day in each
        if when.weekday in (None, day.weekday()) and when.month_day in (None, day.day)
    ]

    assert list(when.days(first, last)) == wanted
    for day in each[31:]:
        assert when.last_by(day) == max(d for d in wanted if d <= day)


def test_a_monday_is_a_monday() -> None:
    when = LETTERS.when(Jobs(letters_on="sun"))
    assert [day.isoweekday() for day in when.days(date(2026, 9, 1), date(2026, 9, 30))] == [7] * 4


def test_before_its_first_run_only_the_last_intended_day_is_due() -> None:
    now = datetime(2026, 9, 2, 12, tzinfo=LONDON)
    assert days_due(LETTERS, PRACTICE, now, None, frozenset()) == (date(2026, 8, 31),)


def test_a_moment_that_has_not_come_is_not_due() -> None:
    early = datetime(2026, 9, 2, 5, 59, tzinfo=LONDON)
    first = date(2026, 8, 30)
    done = frozenset({first, date(2026, 8, 31), date(2026, 9, 1)})

    assert days_due(NIGHTLY, PRACTICE, early, first, done) == ()
    assert days_due(NIGHTLY, PRACTICE, early + timedelta(minutes=1), first, done) == (
        date(2026, 9, 2),
    )


def test_a_hole_is_due_however_late_the_last_run_was() -> None:
    first, now = date(2026, 9, 1), datetime(2026, 9, 5, 12, tzinfo=LONDON)
    done = frozenset({first, date(2026, 9, 2), date(2026, 9, 5)})
    assert days_due(NIGHTLY, PRACTICE, now, first, done) == (date(2026, 9, 3), date(2026, 9, 4))


def test_the_next_run_is_the_practices_own_day_not_the_machines() -> None:
    kiritimati = msgspec.structs.replace(
        PRACTICE, calendar=Calendar(time_zone="Pacific/Kiritimati")
    )
    now = datetime(2026, 9, 1, 15, 0, tzinfo=UTC)  # 05:00 on the 2nd there (UTC+14)
    assert next_run(NIGHTLY, kiritimati, now) == datetime(2026, 9, 1, 16, 0, tzinfo=UTC)


def test_the_runner_looks_again_between_the_times_of_the_jobs() -> None:
    wake = wake_ups(PRACTICE)
    now = datetime(2026, 10, 25, 0, 0, tzinfo=UTC)
    last, found = None, []
    while now < datetime(2026, 10, 26, 0, 0, tzinfo=UTC):
        last = wake.get_next_fire_time(last, now)
        assert last is not None
        found.append(last.astimezone(UTC))
        now = found[-1] + timedelta(seconds=1)
    assert datetime(2026, 10, 25, 6, 0, tzinfo=UTC) in found  # 06:00 GMT again
    assert max(b - a for a, b in pairwise(found)) <= timedelta(minutes=10)
