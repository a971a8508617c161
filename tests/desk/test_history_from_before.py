"""What was asked for before the practice went live is no work of today's until looked through."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta
from pathlib import Path
from random import Random

import pytest

from recall.care.case import Visit
from recall.desk.contacts.bookings import Booking, book
from recall.desk.contacts.contacting import log_contact
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe
from recall.desk.oversight.counts import counts
from recall.desk.oversight.glance import at_once
from recall.desk.people.person_card import person
from recall.desk.plans.changeover import portion
from recall.desk.plans.passing_time import settle
from recall.desk.post.choosing import choose
from recall.desk.post.weekly import monday_of
from recall.desk.referrals.progress import write_letter
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance
from recall.desk.worklists.lists import for_clinician, lost, overdue
from recall.desk.worklists.queue_lines import queue_lines
from recall.desk.worklists.referral_list import referrals
from recall.errors import Refused
from recall.loop.changeover import is_of_before
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.plan_lines import lines_of
from tests.desk.changing_over import LIVE, OLD, SEEN, WORN, history, live_desk, went_live
from tests.desk.practice import FLUID, later, rows, visit


def worked_on(desk: Desk) -> set[str]:
    """Whoever is on any list of the day's work."""
    lists = [queue_lines(desk, letters=True), for_clinician(desk), overdue(desk), lost(desk)]
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
    told = counts(desk)
    assert (told.history > 0, told.overdue, told.referrals) == (True, 0, 0)
    # Whoever only looks at a day to come writes nothing, and is not refused.
    settle(replace(desk, store=replace(desk.store, ahead="Tomorrow")))
    assert at_once(store, desk.clock, LIVE) is None, "the columns are not worked out for it yet"
    settle(desk)
    assert at_once(store, desk.clock, LIVE).history == counts(desk).history == told.history
    assert worked_on(before) == {"P1"}
    assert counts(before).history == 0
    settle(before)
    assert at_once(store, before.clock).overdue == counts(before).overdue > 0


def test_a_call_without_an_answer_is_no_answer_and_worse_symptoms_are(
    store: Store, tmp_path: Path
) -> None:
    desk = live_desk(store, tmp_path)
    history(desk, tmp_path, OLD)
    before = counts(desk).history
    first = rows(store, tables.FollowUp, is_open=True)[0]["id"]
    log_contact(desk, first, None, Attempt("phone", "no_answer"))
    assert counts(desk).history == before
    assert worked_on(later(desk, 60)) == set()
    log_contact(desk, first, None, Attempt("phone", "worse", by_them=True))
    assert counts(desk).history < before
    assert {line.reference for line in for_clinician(desk)} == {"P1"}


def test_an_appointment_takes_what_it_is_for_out(store: Store, tmp_path: Path) -> None:
    desk = live_desk(store, tmp_path)
    history(desk, tmp_path, OLD)
    before = counts(desk).history
    first = rows(store, tables.FollowUp, is_open=True)[0]["id"]
    starts = datetime.combine(LIVE + timedelta(7), time(10))
    book(desk, first, None, Booking(starts, 20, why_late="nothing sooner"))
    assert counts(desk).history < before
    assert worked_on(later(desk, 8)) == {"P1"}, "whether they came is asked"


def test_no_letter_about_a_referral_of_before_is_written(store: Store, tmp_path: Path) -> None:
    desk = live_desk(store, tmp_path)
    history(desk, tmp_path, OLD, **WORN, **SEEN)
    (referral,) = rows(store, tables.Referral, to="ent")
    with pytest.raises(Refused, match="nobody has looked at it"):
        write_letter(desk, referral["id"], None)


def test_nothing_of_the_past_is_worded_as_now(store: Store, tmp_path: Path) -> None:
    desk = live_desk(store, tmp_path, by="clara")
    sudden = {
        "reported": "sudden_hearing_loss",
        "right_drum_seen": "full",
        "left_drum_seen": "full",
    }
    history(live_desk(store, tmp_path), tmp_path, OLD, **sudden)
    card = person(desk, "P1")
    said = " ".join(str(each) for each in (*card.follow_ups, *card.referrals))
    said += " ".join(map(str, referrals(desk, everything=True)))
    for now in ("while the person is here", "before they leave", "while they are here"):
        assert now not in said
    assert "27 March 2024" in said


@pytest.mark.parametrize("seed", range(6))
def test_nobody_falls_out_whatever_the_history(store: Store, tmp_path: Path, seed: int) -> None:
    """Each open ask is either of before, and in the changeover, or in its steps; never both."""
    rng = Random(seed)
    found: dict[str, str] = rng.choice(({}, {**WORN, **SEEN}, {"right_wax_left": "occluding"}))
    days = [(LIVE - timedelta(rng.randrange(1, 1500))).isoformat() for _ in range(5)]
    desk = live_desk(store, tmp_path)
    history(desk, tmp_path, *days, **found)
    old = {line.ask for line in portion(desk, more=99).lines}
    on_lists = worked_on(desk)
    for row in rows(store, tables.FollowUp, is_open=True):
        before = is_of_before(row["urgency"], row["on"], row["latest"], LIVE)
        assert (row["step"] == "look_through") == before == (f"F{row['id']}" in old)
        assert row["next_step_on"] is not None
    for row in rows(store, tables.Referral, is_open=True):
        before = is_of_before(row["urgency"], row["asked_on"], row["seen_by"], LIVE)
        assert (row["stage"] == "look_through") == before
    people = {row["ref"]: row["id"] for row in rows(store, tables.Person)}
    now = [r for r in rows(store, tables.FollowUp, is_open=True) if r["step"] != "look_through"]
    now += [r for r in rows(store, tables.Referral, is_open=True) if r["stage"] != "look_through"]
    assert {people[ref] for ref in on_lists} <= {row["person_id"] for row in now}
    told = {f"{each.entity[0].upper()}{each.entity_id}" for each in failsafe.run(desk).findings}
    assert told.isdisjoint(old)


def test_a_new_visit_brings_a_persons_history_onto_the_closing_sheet(
    store: Store, tmp_path: Path
) -> None:
    history(live_desk(store, tmp_path), tmp_path, OLD, **WORN, **SEEN)
    desk = live_desk(store, tmp_path, by="clara")
    given = draft(desk, "P1", Visit(on=LIVE, left=FLUID))
    from_before = [line for line in lines_of(given.plan) if line.asked_on.isoformat() == OLD]
    assert {"refer to ENT, right ear"} <= {line.words() for line in from_before}
    close_visit(desk, given, Acceptance(looked=True))
    assert counts(desk).history == 0
    assert "P1" in worked_on(desk), "what was left open there is today's work"
