"""What the manager reads: jobs, findings, the month in numbers, what a rule would move."""

from __future__ import annotations

import stat
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest

from recall import config
from recall.clock import Clock
from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.core.replanning import Replanned, mark_everybody, replan
from recall.desk.core.session import Desk, adopted_digest, open_desk
from recall.desk.oversight import failsafe, manager_lists
from recall.desk.oversight.checked import checked
from recall.desk.oversight.job_health import announcements, jobs_health
from recall.desk.oversight.report import register_report
from recall.desk.oversight.report_lines import Line
from recall.desk.plans.adoption import Compared, Move
from recall.desk.plans.passing_time import bring_up_to_date
from recall.desk.practice.job_runs import DueRun, claim
from recall.desk.practice.timetable import JOBS
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    DAY,
    FLUID,
    KERATIN,
    PRACTICE,
    desk_at,
    evening,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)

FROM = datetime(2026, 9, 1, 22, tzinfo=UTC)
"""After every moment of the day: the times of the jobs end at 22:00, wall time an hour ahead."""


def jobs_at(store: Store, days: int = 0) -> Desk:
    desk = desk_at(store, by="nightly")
    return replace(desk, clock=Clock(desk.clock.zone, FROM + timedelta(days=days)))


def runs(desk: Desk, job: str, day: date) -> None:
    taken = claim(desk, DueRun(JOBS[job], day), "runner")
    assert not isinstance(taken, str)
    taken.end({"n": 1})


def told(desk: Desk, job: str) -> str:
    (line,) = (line for line in announcements(desk) if f"The job {job} " in line)
    return line


def test_a_job_that_is_late_says_since_when_and_how_many_runs_wait(store: Store) -> None:
    for name in JOBS:  # one that never ran where others do is told of too
        runs(jobs_at(store), name, DAY)

    assert announcements(jobs_at(store, 1)) == ()
    assert told(jobs_at(store, 2), "nightly") == (
        "The job nightly is late since 2 September 2026 (2 run(s) waiting, "
        "last done for 1 September 2026). See recall jobs."
    )
    runs(jobs_at(store, 2), "nightly", date(2026, 9, 3))
    assert "(one run waiting, last done for 3 September 2026)" in told(jobs_at(store, 2), "nightly")


def test_a_run_that_failed_says_why_until_it_is_done(store: Store) -> None:
    desk = jobs_at(store)
    taken = claim(desk, DueRun(JOBS["backup"], DAY), "runner")
    assert not isinstance(taken, str) and not taken.is_done
    assert taken.failed("The disk is full.")

    line = told(jobs_at(store, 2), "backup")
    assert "never done). It failed: The disk is full. See recall jobs." in line
    (found,) = (h for h in jobs_health(jobs_at(store, 2)) if h.job == "backup")
    assert found.last is not None
    assert (found.last.for_day, found.last.state, found.state) == (DAY, "failed", "late")


def test_a_run_is_entered_once_it_is_ended(store: Store) -> None:
    desk = jobs_at(store)
    runs(desk, "nightly", DAY)

    (row,) = rows(store, tables.JobRun)
    assert (row["state"], row["counts"], row["by_id"]) == ("done", '{"n":1}', desk.by.id)
    assert claim(desk, DueRun(JOBS["nightly"], DAY), "another") == "done_before"
    states = {h.job: (h.state, h.last_done) for h in jobs_health(desk)}
    assert states["nightly"] == ("done", DAY)
    assert states["letters"] == ("never ran", None)


def test_the_last_run_of_a_job_is_the_one_that_is_shown(store: Store) -> None:
    for days in (0, 1):
        runs(jobs_at(store, days), "nightly", DAY + timedelta(days=days))

    lines = {line.job: line for line in manager_lists.jobs(jobs_at(store, 1))}
    assert (lines["nightly"].last_for, lines["nightly"].counts) == (date(2026, 9, 2), '{"n":1}')
    assert (lines["wax"].last_for, lines["wax"].counts, lines["wax"].error) == (None, "", "")


def test_what_was_found_is_shown_with_whose_it_is(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person = somebody(desk)
    visit(desk, person, right=FLUID)
    assert checked(desk).on is None
    failsafe.run(later(desk_at(store, by="nightly"), 60))

    found = checked(later(desk, 60))
    assert found.on == later(desk, 60).today and found.people == 1
    assert found.lines
    for line in found.lines:
        assert (line.reference, line.name, line.born) == ("W1", "Rowan Thackwell", date(2020, 3, 2))


def test_what_leaves_as_a_file_is_for_its_owner_alone(store: Store, tmp_path: Path) -> None:
    desk = desk_at(store)
    files = config.Files(database=tmp_path / "register" / "recall.db")
    (tmp_path / "register").mkdir()
    desk = replace(desk, config=config.Config(practice=PRACTICE.practice, files=files))

    path = manager_lists.export(desk, "jobs", manager_lists.JobLine, manager_lists.jobs(desk))

    assert path.parent == tmp_path / "register" / "lists"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
    assert path.read_bytes().startswith(b"\xef\xbb\xbfjob,")
    (line,) = rows(store, tables.History, what="exported")
    assert (line["entity"], line["by_id"]) == ("list", desk.by.id)


def test_missed_appointments_are_counted_by_whose_they_were(store: Store) -> None:
    desk = desk_at(store, by="clara")
    for ref, born in (("W1", date(2020, 3, 2)), ("W2", date(1970, 1, 1)), ("W3", date(1971, 1, 1))):
        person = somebody(desk, ref, born=born, adult=born.year > 2000)
        visit(desk, person, right=FLUID)
        (row,) = open_follow_ups(store, person)
        starts = datetime.combine(date(2026, 9, 3), time(10))
        made = bookings.book(desk, row["id"], None, Booking(starts)).made
        assert made is not None
        bookings.record_missed(evening(desk, 2), made)

    found = register_report(later(desk, 60), DAY).lines
    assert [line for line in found if line.part == "bookings"] == [
        Line("bookings", "did_not_attend", "adult", 2),
        Line("bookings", "was_not_brought", "child", 1),
    ]


def a_move(days: int | None, *, anew: bool = False) -> Move:
    then = None if anew else DAY
    moved = DAY + timedelta(days=days or 0)
    window = None if days is None else (moved, moved, moved)
    return Move(1, "W1", "right", "fluid", "look", then, window)


def test_what_would_move_is_counted_from_one_day_on() -> None:
    moves = (a_move(-1), a_move(-9), a_move(-3), a_move(1), a_move(0), a_move(None))
    assert Compared((), 4, 9, (*moves, a_move(5, anew=True))).summary() == (
        "9 open asks of 4 people were looked at.",
        "3 would come earlier, by 1 to 9 days (middle 3).",
        "1 would come later, by 1 to 1 days (middle 1).",
        "1 would be asked anew, 1 would not be asked.",
    )
    assert Compared((), 0, 0, ()).summary()[1:3] == (
        "0 would come earlier.",
        "0 would come later.",
    )


@pytest.mark.parametrize(("days", "turned"), [(0, 0), (1, 1)])
def test_what_changes_by_time_is_brought_up_to_date_on_its_day(
    store: Store, days: int, turned: int
) -> None:
    """Booking before they leave lapses on the day after the visit."""
    desk = desk_at(store, by="clara")
    person = somebody(desk)
    visit(desk, person, right=FLUID)
    told: list[tuple[int, int]] = []

    assert bring_up_to_date(later(desk, days), lambda *n: told.append(n)) == turned
    assert told == [(1, 1)]


def test_a_step_is_looked_at_on_its_very_day(store: Store) -> None:
    desk = desk_at(store, by="clara")
    for ref in ("W1", "W2"):
        visit(desk, somebody(desk, ref), right=FLUID)
    with store.write() as session:
        first, second = session.query(tables.FollowUp).all()
        first.next_step_on, second.next_step_on = DAY, DAY + timedelta(days=1)
    told: list[tuple[int, int]] = []

    bring_up_to_date(desk, lambda *n: told.append(n))
    bring_up_to_date(desk, lambda *n: told.append(n), everybody=True)
    assert told == [(1, 1), (2, 2)]


def test_the_calendar_of_a_desk_reaches_years_ahead(store: Store, tmp_path: Path) -> None:
    files = config.Files(database=store.path, sign_off=tmp_path / "protocol.signed.toml")
    desk = open_desk(
        config.Config(practice=PRACTICE.practice, files=files), by="rob", clock=Clock.at(DAY)
    )
    christmas = [date(year, 12, 25) for year in (2025, 2026, 2028, 2030)]

    closed = [desk.calendar.closed_because(day) for day in christmas]
    desk.close()
    assert all(closed)


def test_without_a_register_no_protocol_is_adopted(tmp_path: Path) -> None:
    files = config.Files(database=tmp_path / "none.db")
    assert adopted_digest(config.Config(practice=PRACTICE.practice, files=files)) == ""


def test_a_referral_that_presses_is_in_what_the_check_found(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=KERATIN)
    found = failsafe.run(later(desk_at(store, by="nightly"), 200)).findings
    assert {f.entity for f in found} >= {"referral"}


def test_planning_again_counts_people_and_what_changed(store: Store) -> None:
    desk = desk_at(store, by="clara")
    for ref in ("W1", "W2"):
        visit(desk, somebody(desk, ref), right=FLUID)
    told: list[tuple[int, int]] = []

    assert mark_everybody(desk) == 2
    assert replan(desk, lambda *n: told.append(n)) == Replanned(2, 0, 0)
    assert told == [(2, 2)]
    assert replan(desk) == Replanned(0, 0, 0)
