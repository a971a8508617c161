"""What of the rows of dues and follow-ups goes on, and what the register notes of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.database.store import Store
from recall.records.ledger.storing import Stored, store_ledger
from recall.schedule.plan import CloseReason
from tests.records.build import (
    DAY,
    MADE,
    WHO,
    closing,
    due,
    last_told,
    ledger,
    opens,
    person,
    referral,
    rows,
)

LATER = date(2026, 10, 13)
"""Six weeks after the visit."""
WAX = {
    "ear": "left",
    "track": "wax",
    "earliest": date(2027, 1, 19),
    "target": date(2027, 2, 2),
    "latest": date(2027, 2, 16),
}
"""A due so much later that it is a follow-up of its own."""


def keep(session: Session, person_id: int, *args, on: date = DAY, **kwargs) -> Stored:
    return store_ledger(session, person_id, ledger(*args, **kwargs), replace(WHO, on=on), opens)


def test_what_storing_says_that_it_changed(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        first = keep(session, who.id, due(), due(**WAX), referrals=(referral(),))
        then = keep(session, who.id, due(**WAX), closings=(closing(due(), LATER),), on=LATER)

    assert first == Stored(2, 0, opened=(1, 2), changed=(), referrals=(1,))
    assert then == Stored(0, 1, opened=(), changed=(1,), referrals=(1,))


def test_a_new_due_takes_the_place_of_one_about_the_same_thing_only(store: Store) -> None:
    """The fluid look was corrected and the wax look is gone, whose letters went out."""
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due(), due(**WAX))
        rows(session, tables.FollowUp)[1].step_no = 3

        keep(session, who.id, due(asked_on=DAY + timedelta(days=3)))

        found = [(f.tracks, f.is_open, f.step_no) for f in rows(session, tables.FollowUp)]
    assert found == [(("fluid",), True, 0), (("wax",), False, 3)]


@pytest.mark.parametrize(
    ("ahead", "goes_on"),
    [({"step_no": 1}, 2), ({"round": 2}, 2), ({}, 1)],
    ids=["a step further", "a round further", "as far: the older one"],
)
def test_the_follow_up_that_goes_on_is_the_furthest(
    store: Store, ahead: dict[str, int], goes_on: int
) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due(), due(**WAX))
        for name, value in ahead.items():
            setattr(rows(session, tables.FollowUp)[1], name, value)
        wide = due(**{**WAX, "earliest": due().earliest})

        keep(session, who.id, due(), wide, on=LATER)

        found = {f.id: (f.is_open, f.closed_on) for f in rows(session, tables.FollowUp)}
    assert found[goes_on] == (True, None)
    assert found[3 - goes_on] == (False, LATER)


def test_an_open_follow_up_goes_on_rather_than_a_closed_one_that_is_further(store: Store) -> None:
    """The answered due is asked again, into the window of what is open still."""
    wide = due(**{**WAX, "earliest": due().earliest})
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due(), due(**WAX))
        rows(session, tables.FollowUp)[0].step_no = 3
        keep(session, who.id, due(**WAX), closings=(closing(due(), LATER),))

        keep(session, who.id, due(), wide)

        found = [(f.is_open, f.step_no) for f in rows(session, tables.FollowUp)]
    assert found == [(False, 3), (True, 0)]


def test_a_follow_up_opens_on_the_day_of_its_latest_ask(store: Store) -> None:
    second = due(ear="left", asked_on=DAY + timedelta(days=7))
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due(), second)

        row = rows(session, tables.FollowUp)[0]
        assert (row.on, row.step, row.step_no) == (date(2026, 9, 8), "invitation", 0)
        assert last_told(session, "follow_up") == (
            "opened",
            None,
            {
                "earliest": "2026-10-06",  # four weeks after the later ask
                "target": "2026-10-13",
                "latest": "2026-10-27",
                "urgency": "medium",
                "step": "invitation",
                "next_step_on": "2026-09-22",  # two weeks before the earliest day
            },
        )


@pytest.mark.parametrize(
    ("before", "then"),
    [(date(2026, 9, 10), date(2026, 9, 10)), (date(2026, 12, 1), date(2026, 9, 22))],
)
def test_a_corrected_window_may_bring_the_next_step_forward_only(
    store: Store, before: date, then: date
) -> None:
    moved = due(asked_on=DAY + timedelta(days=7))
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        rows(session, tables.FollowUp)[0].next_step_on = before

        done = keep(session, who.id, moved)

        row = rows(session, tables.FollowUp)[0]
        what, was, now = last_told(session, "follow_up")
    # Made, changed above, and changed by storing.
    assert (row.next_step_on, row.version, done.changed) == (then, 3, (1,))
    assert (what, was["latest"], now["latest"]) == ("changed", "2026-10-27", "2026-11-03")
    assert (was["next_step_on"], now["next_step_on"]) == (before.isoformat(), then.isoformat())


def test_what_is_to_be_done_changes_without_the_offered_day_or_the_rank(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        row = rows(session, tables.FollowUp)[0]
        row.urgency_rank, row.offer_on = 1, LATER

        keep(session, who.id, due(do=("tympanometry",)))

        row = rows(session, tables.FollowUp)[0]
        assert (row.do, row.urgency_rank, row.offer_on) == (("tympanometry",), 1, LATER)


def test_another_urgency_gives_the_rank_anew_and_another_window_the_offered_day(
    store: Store,
) -> None:
    """Of the five urgencies high is the third, counted from none."""
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        row = rows(session, tables.FollowUp)[0]
        row.urgency_rank, row.offer_on = 0, LATER

        keep(session, who.id, due(urgency="high"))
        row = rows(session, tables.FollowUp)[0]
        assert (row.urgency_rank, row.offer_on) == (2, LATER)

        keep(session, who.id, due(urgency="high", latest=due().latest - timedelta(days=1)))
        row = rows(session, tables.FollowUp)[0]
        assert (row.urgency_rank, row.offer_on) == (2, None)


@pytest.mark.parametrize(
    ("reasons", "told"),
    [
        (("answered", "informed_decline"), "informed_decline"),
        (("died", "transferred"), "died"),
        (("resolved", "answered"), "answered"),
        (("superseded", "resolved"), "resolved"),
    ],
)
def test_a_follow_up_ends_when_its_last_due_does_by_the_weightier_reason(
    store: Store, reasons: tuple[CloseReason, CloseReason], told: str
) -> None:
    """The order of weight is the house's own: common practice, no source."""
    first, second = due(), due(ear="left")
    ends = (
        closing(first, LATER, reasons[0]),
        closing(second, LATER + timedelta(days=2), reasons[1]),
    )
    with store.write() as session:
        who = person(session)
        keep(session, who.id, first, second)
        keep(session, who.id, closings=ends, on=LATER + timedelta(days=30))

        row = rows(session, tables.FollowUp)[0]
        what, was, now = last_told(session, "follow_up")
    assert (row.is_open, row.close_reason, row.closed_on) == (False, told, date(2026, 10, 15))
    assert (what, was["step"], now) == ("closed", "invitation", told)


@pytest.mark.parametrize(
    "again",
    [{"reason": "resolved"}, {"on": LATER + timedelta(days=1)}],
    ids=["another reason", "another day"],
)
def test_a_closing_that_says_something_else_now_is_noted_anew(
    store: Store, again: dict[str, Any]
) -> None:
    first: dict[str, Any] = {"on": LATER, "reason": "answered"}
    second = {**first, **again}
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        for told in (first, second, second):
            keep(session, who.id, closings=(closing(due(), **told),))

        noted = [(e.on, e.reason, e.void_at) for e in rows(session, tables.DueEvent)]
        assert not rows(session, tables.Due)[0].is_open
    assert noted == [(LATER, "answered", None), (second["on"], second["reason"], None)]


def test_a_due_stands_up_again_on_the_day_of_the_correction(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        keep(session, who.id, closings=(closing(due(), LATER),))
        keep(session, who.id, due(), on=LATER + timedelta(days=1))

        event = rows(session, tables.DueEvent)[-1]
        assert (event.what, event.on) == ("reopened", date(2026, 10, 14))
        assert last_told(session, "due") == ("reopened", "answered", None)
        assert last_told(session, "follow_up")[0] == "reopened"


def test_an_answered_due_that_nobody_asked_for_is_noted_as_an_error_once(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        keep(session, who.id, closings=(closing(due(), LATER),))
        for day in (LATER + timedelta(days=1), LATER + timedelta(days=2)):
            keep(session, who.id, on=day)

        noted = [(e.what, e.reason, e.on) for e in rows(session, tables.DueEvent)]
        assert last_told(session, "due") == ("closed", "answered", "entered_in_error")
    assert noted == [
        ("closed", "answered", LATER),
        ("closed", "entered_in_error", LATER + timedelta(days=1)),
    ]


def test_a_closing_by_a_decision_points_to_it_and_another_does_not(store: Store) -> None:
    decided = {"ear": "right", "track": "fluid", "kind": "recheck", "to": None, "asked_on": DAY}
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due(), due(ear="left"))
        made = {**MADE, "on": LATER}
        decision = tables.Decision(
            person_id=who.id, action="close", reason="clinician_decision", **decided, **made
        )
        session.add(decision)
        session.flush()
        ends = [closing(d, LATER, "clinician_decision") for d in (due(), due(ear="left"))]

        keep(session, who.id, closings=tuple(ends), on=LATER)

        found = [(e.due_id, e.decision_id) for e in rows(session, tables.DueEvent)]
        assert last_told(session, "due") == (
            "closed",
            None,
            {"reason": "clinician_decision", "on": "2026-10-13"},
        )
        assert found == [(1, decision.id), (2, None)]


def test_the_history_says_what_was_asked(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, due())
        told = last_told(session, "due")
    assert told == (
        "asked",
        None,
        {
            "ear": "right",
            "track": "fluid",
            "kind": "recheck",
            "rule": "fluid-child-look",
            "rule_version": 1,
            "earliest": "2026-09-29",
            "target": "2026-10-13",
            "latest": "2026-10-27",
            "urgency": "medium",
            "asked_on": "2026-09-01",
        },
    )
