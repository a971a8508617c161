"""What was asked for before the practice went live is no work of today's until looked through."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe
from recall.desk.oversight.counts import counts
from recall.desk.oversight.glance import at_once
from recall.desk.plans.passing_time import bring_up_to_date
from recall.desk.post.choosing import choose
from recall.desk.post.weekly import monday_of
from recall.desk.worklists.lists import for_clinician, lost, overdue, queue
from recall.desk.worklists.referral_list import referrals
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.changing_over import LIVE, OLD, SEEN, WORN, history, live_desk, went_live
from tests.desk.practice import FLUID, later, rows, visit


def worked_on(desk: Desk) -> set[str]:
    """Whoever is on any list of the day's work."""
    lists = [queue(desk, letters=True), for_clinician(desk), overdue(desk), lost(desk)]
    found = {line.reference for some in lists for line in some}
    return found | {line.reference for line in referrals(desk)}


def written_to(desk: Desk) -> int:
    with desk.store.read() as session:
        return len(choose(desk, session, monday_of(desk.today)).chosen)


def test_without_a_day_of_going_live_everything_is_as_it_was(store: Store, tmp_path: Path) -> None:
    desk = live_desk(store, tmp_path, live=None)
    history(desk, tmp_path, OLD, **WORN, **SEEN)
    assert worked_on(desk) == {"P1"}
    assert counts(desk).history == 0


def test_history_is_in_one_count_and_on_no_list(store: Store, tmp_path: Path) -> None:
    desk = live_desk(store, tmp_path)
    history(desk, tmp_path, OLD, "2025-01-14", **WORN, **SEEN)
    assert worked_on(desk) == set()
    assert written_to(desk) == 0
    found = counts(desk)
    assert (found.overdue, found.referrals, found.by_step.to_reach) == (0, 0, 0)
    open_now = (
        rows(store, tables.FollowUp, is_open=True),
        rows(store, tables.Referral, is_open=True),
    )
    assert found.history == sum(map(len, open_now)) > 2
    assert at_once(store, desk.clock, LIVE).history == found.history
    assert all(row["next_step_on"] == LIVE for row in open_now[0])


def test_history_is_no_finding_of_the_failsafe(store: Store, tmp_path: Path) -> None:
    desk = live_desk(store, tmp_path)
    history(desk, tmp_path, OLD, **WORN, **SEEN)
    assert not failsafe.run(later(desk, 60)).findings


def test_what_falls_due_later_enters_its_steps(store: Store, tmp_path: Path) -> None:
    desk = live_desk(store, tmp_path)
    history(desk, tmp_path, "2026-04-01", "2026-08-20")
    standing = rows(store, tables.FollowUp, is_open=True)
    assert {row["latest"] < LIVE for row in standing} == {True, False}
    for row in standing:
        assert (row["step"] == "look_through") == (row["latest"] < LIVE)
    assert worked_on(later(desk, 120)) == {"P2"}


@pytest.mark.parametrize(("days", "old"), [(1, False), (2, True)])
def test_an_emergency_is_todays_work_within_a_day(
    store: Store, tmp_path: Path, days: int, old: bool
) -> None:
    desk = live_desk(store, tmp_path)
    sudden = {
        "reported": "sudden_hearing_loss",
        "right_drum_seen": "full",
        "left_drum_seen": "full",
    }
    history(desk, tmp_path, (LIVE - timedelta(days)).isoformat(), **sudden)
    emergencies = rows(store, tables.Referral, is_open=True, urgency="emergency")
    assert emergencies
    assert {row["stage"] == "look_through" for row in emergencies} == {old}


def test_a_new_visit_takes_a_persons_history_out(store: Store, tmp_path: Path) -> None:
    desk = live_desk(store, tmp_path)
    history(desk, tmp_path, OLD, "2025-01-14", **WORN, **SEEN)
    before = counts(desk).history
    (person,) = (row["id"] for row in rows(store, tables.Person, ref="P1"))
    visit(desk, person, left=FLUID)
    after = counts(desk).history
    assert 0 < after < before
    waiting = rows(store, tables.FollowUp, is_open=True, step="look_through")
    assert person not in {row["person_id"] for row in waiting}


def test_a_day_that_is_set_afterwards_holds_at_once_and_can_be_taken_back(
    store: Store, tmp_path: Path
) -> None:
    before = live_desk(store, tmp_path, live=None)
    history(before, tmp_path, OLD, **WORN, **SEEN)
    desk = went_live(before, LIVE)
    assert worked_on(desk) == set()
    bring_up_to_date(desk)
    assert counts(desk).history == at_once(store, desk.clock, LIVE).history > 0
    assert worked_on(before) == {"P1"}
