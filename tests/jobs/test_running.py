"""What is due runs once, in order, whatever was missed; a crash loses and doubles nothing."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, insert, select

from recall.clock import Clock
from recall.config import Config
from recall.desk.core.session import Desk, open_desk
from recall.desk.oversight.job_health import announcements, jobs_health
from recall.desk.practice.job_runs import DueRun, Run
from recall.desk.practice.runners import this_runner
from recall.desk.practice.timetable import JOBS
from recall.errors import InputError, Refused
from recall.jobs import running, work
from recall.jobs.running import Ran, run_due, run_on, run_one
from recall.records import tables
from recall.records.journal import job_ledger
from tests.desk.practice import rows
from tests.jobs.making import clock_at, practice_in

MONDAY = date(2026, 8, 31)
Made = list[tuple[str, date]]


class Crash(BaseException):
    """The machine went off."""


@pytest.fixture
def practice(
    empty_register: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Config]:
    """A practice whose desk is opened once, and only its clock is set for each start."""
    made = practice_in(tmp_path, empty_register)
    opened = open_desk(made, by="jobs", clock=Clock.at(MONDAY))

    @contextmanager
    def at(_config: Config, clock: Clock) -> Iterator[Desk]:
        yield replace(opened, clock=clock)

    monkeypatch.setattr(running, "_desk", at)
    yield made
    opened.close()


@pytest.fixture
def ran(monkeypatch: pytest.MonkeyPatch) -> Iterator[Made]:
    """Every job's work is to note itself, in one transaction with its end."""
    made: Made = []

    def note(run: Run) -> dict[str, Any]:
        with run.desk.store.write() as session:
            _row(run, session)
            run.done(session, {"noted": 1})
        made.append((run.job, run.for_day))
        return {"noted": 1}

    monkeypatch.setattr(running, "work_of", lambda _name: note)
    yield made


def _row(run: Run, session: Any) -> None:
    values = {"on": run.for_day, "recorded_at": run.desk.now, "by_id": run.desk.by.id}
    session.execute(insert(tables.FailsafeRun.__table__).values(people=0, found=0, **values))


def noted(practice: Config) -> int:
    desk = open_desk(practice, by="jobs", clock=Clock.at(MONDAY))
    with desk.store.read() as session:
        count = session.scalar(select(func.count()).select_from(tables.FailsafeRun)) or 0
    desk.close()
    return count


def ledger(practice: Config, job: str) -> list[tuple[date, str]]:
    desk = open_desk(practice, by="jobs", clock=Clock.at(MONDAY))
    with desk.store.read() as session:
        rows = [(run.for_day, run.state) for run in job_ledger.runs(session, job, 2000)]
    desk.close()
    return rows[::-1]


def test_at_the_first_start_each_job_runs_for_its_last_day_and_no_earlier(
    practice: Config, ran: Made
) -> None:
    run_due(practice, clock_at(MONDAY + timedelta(days=2)))

    assert ran == [
        ("letters", MONDAY),
        ("wax", date(2026, 9, 1)),
        ("report", date(2026, 9, 1)),
        ("nightly", date(2026, 9, 2)),
        ("papers", date(2026, 9, 2)),
        ("backup", date(2026, 9, 2)),
    ]


def once(practice: Config, hour: int, minute: int = 0) -> Ran:
    """Run the nightly job for the Monday at a time of it."""
    with running._desk(practice, clock_at(MONDAY, hour, minute)) as desk:
        return run_one(desk, DueRun(JOBS["nightly"], MONDAY))


def test_what_is_done_is_not_done_again(practice: Config, ran: Made) -> None:
    run_due(practice, clock_at(MONDAY))
    before = len(ran)

    assert run_due(practice, clock_at(MONDAY)) == []
    assert len(ran) == before


def test_days_switched_off_are_caught_up_in_order(practice: Config, ran: Made) -> None:
    run_due(practice, clock_at(MONDAY))
    ran.clear()

    run_due(practice, clock_at(MONDAY + timedelta(days=23)))

    weeks = [MONDAY + timedelta(days=7 * n) for n in (1, 2, 3)]
    assert [day for job, day in ran if job == "letters"] == weeks
    assert [day for job, day in ran if job == "report"] == [date(2026, 9, 1)]


def test_one_look_answers_for_all_the_nights_that_were_missed(practice: Config, ran: Made) -> None:
    run_due(practice, clock_at(MONDAY))
    ran.clear()

    found = run_due(practice, clock_at(MONDAY + timedelta(days=23)))

    last = MONDAY + timedelta(days=23)
    for one in ("nightly", "papers", "backup"):
        assert [day for job, day in ran if job == one] == [last]
    assert next(f for f in found if f.job == "nightly").answered == tuple(
        MONDAY + timedelta(days=n) for n in range(1, 23)
    )
    assert ledger(practice, "nightly") == [(MONDAY + timedelta(days=n), "done") for n in range(24)]
    with closing(open_desk(practice, by="jobs", clock=Clock.at(MONDAY))) as desk:
        kept = [run.counts for run in rows(desk.store, tables.JobRun, job="nightly")]
    assert [c for c in kept if "answered_by" in c] == [f'{{"answered_by":"{last}"}}'] * 22


def test_a_year_end_and_a_leap_day_leave_no_hole(practice: Config, ran: Made) -> None:
    day = date(2027, 12, 20)
    while day < date(2028, 3, 5):
        run_due(practice, clock_at(day))
        day += timedelta(days=5)  # the machine is on every fifth day
    days = [day for day, _state in ledger(practice, "nightly")]

    assert days == [date(2027, 12, 20) + timedelta(days=n) for n in range(len(days))]
    assert date(2028, 2, 29) in days
    assert [day for day, _ in ledger(practice, "report")] == [
        date(2027, 12, 1),
        date(2028, 1, 1),
        date(2028, 2, 1),
        date(2028, 3, 1),
    ]


@pytest.mark.parametrize("day", [date(2026, 3, 29), date(2026, 10, 25)])
def test_the_nights_of_clock_changes_run_once(practice: Config, ran: Made, day: date) -> None:
    for n in (-1, 0, 1):
        for hour in (0, 1, 2, 3, 6, 12):
            run_due(practice, clock_at(day + timedelta(days=n), hour))

    nights = [on for job, on in ran if job == "nightly"]
    assert nights == sorted(set(nights)) and {day, day + timedelta(days=1)} <= set(nights)


def _crash_before(run: Run) -> dict[str, Any]:
    raise Crash


def _crash_inside(run: Run) -> dict[str, Any]:
    with run.desk.store.write() as session:
        _row(run, session)
        raise Crash


def _crash_at_the_end_of_it(run: Run) -> dict[str, Any]:
    with run.desk.store.write() as session:
        _row(run, session)
        run.done(session, {})
        raise Crash


def _crash_after(run: Run) -> dict[str, Any]:
    with run.desk.store.write() as session:
        _row(run, session)
        run.done(session, {})
    raise Crash


@pytest.mark.parametrize(
    "crash", [_crash_before, _crash_inside, _crash_at_the_end_of_it, _crash_after]
)
def test_a_crash_at_any_point_loses_and_doubles_nothing(
    practice: Config, ran: Made, monkeypatch: pytest.MonkeyPatch, crash: Callable[[Run], Any]
) -> None:
    counts = running.work_of("nightly")
    monkeypatch.setattr(running, "work_of", lambda _name: crash)
    with pytest.raises(Crash):
        once(practice, 6)
    monkeypatch.setattr(running, "work_of", lambda _name: counts)

    early = once(practice, 6, 10)
    once(practice, 6, 30)

    assert early.state in ("with_another", "done_before")  # its runner may still be alive
    assert noted(practice) == 1
    assert ledger(practice, "nightly") == [(MONDAY, "done")]


def test_a_runner_that_wakes_up_after_it_was_taken_over_keeps_nothing(
    practice: Config, monkeypatch: pytest.MonkeyPatch
) -> None:
    def sleeper(run: Run) -> dict[str, Any]:
        monkeypatch.setattr(running, "work_of", lambda _name: _note)
        once(practice, 9)
        return _note(run)

    monkeypatch.setattr(running, "work_of", lambda _name: sleeper)
    late = once(practice, 6)

    assert late.state == "with_another"
    assert noted(practice) == 1


def _note(run: Run) -> dict[str, Any]:
    with run.desk.store.write() as session:
        _row(run, session)
        run.done(session, {})
    return {}


def test_a_job_that_fails_says_so_is_tried_again_and_does_not_stop_the_others(
    practice: Config, ran: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    good = running.work_of("nightly")

    def refuses(_run: Run) -> dict[str, Any]:
        raise Refused("Batch 3 is on the printer.", hint="Wait.")

    monkeypatch.setattr(running, "work_of", lambda name: refuses if name == "letters" else good)
    found = {f.job: f.state for f in run_due(practice, clock_at(MONDAY))}
    assert found["letters"] == "failed" and found["nightly"] == found["backup"] == "done"

    monkeypatch.setattr(running, "work_of", lambda _name: good)
    again = run_due(practice, clock_at(MONDAY))
    assert [(f.job, f.state) for f in again] == [("letters", "done")]


def test_an_unexpected_failure_enters_no_detail_that_could_hold_a_name(
    practice: Config, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(_run: Run) -> dict[str, Any]:
        raise KeyError("Rowan Thackwell")

    monkeypatch.setattr(running, "work_of", lambda _name: breaks)
    found = once(practice, 23)

    desk = open_desk(practice, by="jobs", clock=Clock.at(MONDAY))
    with desk.store.read() as session:
        (row,) = job_ledger.runs(session, "nightly")
    desk.close()
    assert isinstance(found.cause, KeyError)
    assert row.error == "Something unexpected went wrong (KeyError)."


def test_one_job_can_be_run_for_the_day_that_covers_a_day(practice: Config, ran: Made) -> None:
    assert run_on(practice, "letters", MONDAY + timedelta(days=3)).for_day == MONDAY
    assert run_on(practice, "letters", MONDAY + timedelta(days=4)).state == "done_before"
    assert ran == [("letters", MONDAY)]


def test_an_unknown_job_is_refused(practice: Config) -> None:
    with pytest.raises(InputError, match="no job 'lettres'"):
        run_on(practice, "lettres", MONDAY)


def test_signs_of_life_are_given_at_most_once_a_minute(
    practice: Config, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: list[int] = []
    monkeypatch.setattr(
        job_ledger, "sign_of_life", lambda _session, number, _runner, _at: given.append(number)
    )

    def long(run: Run) -> dict[str, Any]:
        for _ in range(1000):
            run.alive()
        return {}

    monkeypatch.setattr(running, "work_of", lambda _name: long)
    once(practice, 23)
    assert len(given) == 1


def test_every_job_of_the_table_has_its_work() -> None:
    assert all(callable(work.work_of(name)) for name in JOBS)


def test_a_run_late_by_a_day_is_announced_and_one_in_time_is_not(
    practice: Config, ran: Made
) -> None:
    def told(day: date, hour: int) -> tuple[str, ...]:
        desk = open_desk(practice, by="jobs", clock=Clock.at(day))
        at = replace(desk, clock=clock_at(day, hour))
        said = announcements(at)
        desk.close()
        return said

    assert "never run" in told(MONDAY, 9)[0]
    run_due(practice, clock_at(MONDAY))
    assert told(MONDAY, 23) == ()
    assert told(MONDAY + timedelta(days=2), 5) == ()
    night, papers = told(MONDAY + timedelta(days=2), 6)
    assert "job nightly is late since 1 September 2026" in night
    assert "job papers is late since 1 September 2026" in papers
    late = told(MONDAY + timedelta(days=3), 23)
    assert [line.split()[2] for line in late] == ["nightly", "papers", "wax", "report", "backup"]


def test_the_status_shows_last_and_next_runs(practice: Config, ran: Made) -> None:
    run_due(practice, clock_at(MONDAY))
    desk = open_desk(practice, by="jobs", clock=Clock.at(MONDAY + timedelta(days=1)))
    found = {health.job: health for health in jobs_health(desk)}
    desk.close()

    assert found["letters"].last_done == MONDAY
    assert found["letters"].next_at.date() == MONDAY + timedelta(days=7)
    assert found["nightly"].state == "waiting"
    assert found["backup"].state == "done"


def test_a_run_whose_process_is_gone_is_said_and_taken_over_at_once(
    practice: Config, ran: Made
) -> None:
    """On the machine that it ran on; of another machine only its silence tells."""
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    mine = this_runner().partition(":")[0]
    _running(practice, f"elsewhere:{ended.pid}:x")
    assert (_said(practice), once(practice, 6, 1).state) == ((), "with_another")
    _running(practice, this_runner())
    assert (_said(practice), once(practice, 6, 1).state) == ((), "with_another")

    _running(practice, f"{mine}:{ended.pid}:x")
    (said,) = _said(practice)
    assert said.startswith("The job nightly for 31 August 2026 broke off")
    assert once(practice, 6, 1).state == "done"
    assert _said(practice) == ()


def test_a_failure_is_said_at_once(practice: Config, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(_run: Run) -> dict[str, Any]:
        raise Refused("The disk is full.", hint="Make room.")

    monkeypatch.setattr(running, "work_of", lambda _name: refuses)
    once(practice, 6)

    assert _said(practice) == (
        "The job nightly for 31 August 2026 failed: The disk is full. Make room. See recall jobs.",
    )


def _running(practice: Config, runner: str) -> None:
    """Leave a run behind that began a minute ago."""
    desk = open_desk(practice, by="jobs", on=MONDAY)
    with desk.store.write() as session:
        table = tables.JobRun.__table__
        session.execute(table.delete())
        at = clock_at(MONDAY, 6).now()
        job_ledger.begin(session, "nightly", MONDAY, by_id=desk.by.id, at=at, runner=runner)
    desk.close()


def _said(practice: Config) -> tuple[str, ...]:
    desk = replace(open_desk(practice, by="jobs", on=MONDAY), clock=clock_at(MONDAY, 6, 1))
    said = announcements(desk)
    desk.close()
    return said
