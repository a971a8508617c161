"""A day may be given, an instant never: what is entered late says so, and forges nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from recall.clock import Clock
from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.acting import facts_now
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe
from recall.desk.oversight.notices import announcements
from recall.desk.people.person_card import person
from recall.desk.people.timeline import timeline
from recall.loop.lost import missing
from recall.loop.trail import read_trail
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    DAY,
    FLUID,
    desk_at,
    history_is_whole,
    open_follow_ups,
    rows,
    somebody,
    visit,
)

LATE = DAY + timedelta(days=28)
"""The window of fluid on the right opens: from here on attempts count."""


@pytest.fixture
def follow_up(store: Store) -> int:
    """A child's follow-up."""
    desk = desk_at(store, by="clara")
    child = somebody(desk)
    visit(desk, child, right=FLUID)
    return int(open_follow_ups(store, child)[0]["id"])


def now_for(store: Store, now: datetime, day: date, by: str = "rob") -> Desk:
    """A desk at an instant, acting for a day."""
    desk = desk_at(store, by=by)
    return replace(desk, clock=Clock(fixed=now).acting_for(day))


def at(day: date, hour: int = 12) -> datetime:
    """An hour of a day."""
    return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)


def test_a_day_that_is_given_sets_no_instant(store: Store, follow_up: int) -> None:
    now = at(LATE + timedelta(days=3))
    desk = now_for(store, now, LATE)

    contacting.log_contact(desk, follow_up, None, Attempt("phone", "no_answer"))

    (row,) = rows(store, tables.Contact)
    assert (row["on"], row["recorded_at"]) == (LATE, now)
    lines = [r for r in rows(store, tables.History) if r["entity"] == "contact"]
    assert [line["at"] for line in lines] == [now]


def test_what_is_entered_late_says_so_everywhere(store: Store, follow_up: int) -> None:
    entered = LATE + timedelta(days=3)
    desk = now_for(store, at(entered), LATE)
    contacting.log_contact(desk, follow_up, None, Attempt("phone", "no_answer"))

    told = timeline(desk_at(store, entered), "W1")
    assert [one.late for one in told if "no answer" in one.says.lower()] == [entered]
    assert "entered late on 2 October 2026" in str(told[-1])
    assert "entered late" in person(desk_at(store, entered), "W1").tried[0].words
    with store.read() as session:
        (event,) = facts_now(session, follow_up).events
    assert (event.is_late, event.entered_on, event.proves) == (True, entered, True)


def test_what_is_entered_over_a_week_late_proves_nothing(store: Store, follow_up: int) -> None:
    """Somebody who wants to close a follow-up types the calls of a month ago."""
    desk = now_for(store, at(LATE + timedelta(days=40)), LATE)
    for channel in ("phone", "text"):
        contacting.log_contact(desk, follow_up, None, Attempt(channel, "left_message"))

    with store.read() as session:
        facts = facts_now(session, follow_up)
    trail = read_trail(facts, LATE + timedelta(days=40))
    assert len(trail.tries) == 2 and trail.attempts == ()
    words = [m.words for m in missing(facts, LATE + timedelta(days=40), desk.protocol.contact)]
    assert words[0].endswith("(2 more entered over a week late)")


def test_order_is_the_number_when_the_clock_goes_back(store: Store, follow_up: int) -> None:
    first = now_for(store, at(LATE, 12), LATE)
    contacting.log_contact(first, follow_up, None, Attempt("phone", "no_answer"))
    second = now_for(store, at(LATE, 8), LATE)
    contacting.log_contact(second, follow_up, None, Attempt("phone", "will_call_back"))

    with store.read() as session:
        events = facts_now(session, follow_up).events
    assert [event.outcome for event in events] == ["no_answer", "will_call_back"]
    marks = [r for r in rows(store, tables.History) if r["what"] == "clock_set_back"]
    assert [mark["at"] for mark in marks] == [at(LATE, 8)]
    assert [r["recorded_at"] for r in rows(store, tables.Contact)] == [at(LATE, 12), at(LATE, 8)]
    assert history_is_whole(store)


def test_the_manager_is_told_that_the_clock_went_back(store: Store, follow_up: int) -> None:
    for hour in (12, 8):
        desk = now_for(store, at(LATE, hour), LATE)
        contacting.log_contact(desk, follow_up, None, Attempt("phone", "no_answer"))

    of_manager = announcements(now_for(store, at(LATE, 13), LATE, by="mina"))
    assert any("clock was set back on 29 September 2026" in said for said in of_manager)
    assert not any("clock" in said for said in announcements(desk))
    found = failsafe.run(now_for(store, at(LATE, 13), LATE, by="nightly")).findings
    assert [one.kind for one in found if one.entity == "history"] == ["clock_set_back"]


def test_seconds_between_two_desks_are_no_clock_set_back(store: Store, follow_up: int) -> None:
    for seconds in (5, 0):
        now = at(LATE) + timedelta(seconds=seconds)
        desk = now_for(store, now, LATE)
        contacting.log_contact(desk, follow_up, None, Attempt("phone", "no_answer"))

    assert "clock_set_back" not in {row["what"] for row in rows(store, tables.History)}
