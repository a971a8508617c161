"""A job that never ran where others do is missed: a machine's timer may start one job alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from recall.clock import Clock
from recall.desk.core.session import Desk, open_desk
from recall.desk.oversight.job_health import announcements, jobs_health
from recall.records.journal import job_ledger
from tests.jobs.making import clock_at, practice_in

MONDAY = date(2026, 8, 31)
SAID = "The job backup has never run here; it is due since 31 August 2026. See recall jobs."


@pytest.fixture
def night_alone(empty_register: Path, tmp_path: Path) -> Iterator[Desk]:
    """A desk of a practice in which the nightly job alone was ever run."""
    practice = practice_in(tmp_path, empty_register)
    desk = open_desk(practice, by="jobs", clock=Clock.at(MONDAY))
    at = clock_at(MONDAY, 7).now()
    for day in (MONDAY, MONDAY + timedelta(days=1)):
        with desk.store.write() as session:
            by = {"by_id": desk.by.id, "at": at, "runner": "here:1:x"}
            made = job_ledger.begin(session, "nightly", day, **by)
            assert made is not None
            job_ledger.finish(session, made, "here:1:x", at)
    yield desk
    desk.close()


def told(desk: Desk, days: int, hour: int) -> tuple[list[str], str]:
    at = replace(desk, clock=clock_at(MONDAY + timedelta(days=days), hour))
    state = next(each.state for each in jobs_health(at) if each.job == "backup")
    return [line for line in announcements(at) if "never run" in line], state


def test_it_is_said_a_day_after_it_was_first_due(night_alone: Desk) -> None:
    said, state = told(night_alone, 1, 20)
    assert ([line.split()[2] for line in said], state) == (["papers", "letters"], "never ran")
    said, state = told(night_alone, 1, 22)
    assert (said[-1], state) == (SAID, "never ran")


def test_a_monthly_job_is_not_missed_before_its_first_month_has_come(night_alone: Desk) -> None:
    said, _ = told(night_alone, 1, 22)
    assert not any("job wax" in line or "job report" in line for line in said)
    said, _ = told(night_alone, 2, 22)
    assert [line.split()[2] for line in said] == ["papers", "letters", "wax", "report", "backup"]


def test_once_it_ran_it_is_said_no_more(night_alone: Desk) -> None:
    with night_alone.store.write() as session:
        at = clock_at(MONDAY, 22).now()
        by = {"by_id": night_alone.by.id, "at": at, "runner": "here:1:x"}
        made = job_ledger.begin(session, "backup", MONDAY, **by)
        assert made is not None
        job_ledger.finish(session, made, "here:1:x", at)

    said, state = told(night_alone, 1, 12)
    assert (SAID in said, state) == (False, "done")
