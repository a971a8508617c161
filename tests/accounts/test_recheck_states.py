"""Every re-check is in exactly one state on a day, and a miss stays a miss."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from itertools import product
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from recall.accounts.cohort import Day, account_of_rechecks
from recall.accounts.rates import in_time
from recall.accounts.recheck import Recheck, RunStatus, recheck_state
from recall.accounts.states import RECHECK_STATES, RecheckState
from recall.care.case import Case
from recall.schedule.fold import fold
from recall.schedule.plan import Action, CloseReason, Decision, Ledger
from tests.accounts.asks import DAY, EARLIEST, LATEST, START, ask, asks_of
from tests.care.strategies import cases
from tests.desk.practice import protocol
from tests.seeds import examples

NAMES = [state.id for state in RECHECK_STATES]
ENDS: tuple[dict[str, Any], ...] = tuple(
    {"reason": reason, "at_visit": at_visit, "action": action, "moved_to": moved_to}
    for reason, at_visit, action, moved_to in product(
        get_args(CloseReason),
        (True, False),
        (None, *get_args(Action)),
        (None, LATEST - DAY, LATEST + 90 * DAY),
    )
)
"""Every closing reason there is, by a visit or not, with every decision."""


def of(on: date, **more: Any) -> RecheckState:
    return recheck_state(ask(**more), on)


def test_the_table_has_every_state_once() -> None:
    assert Counter(NAMES) == Counter(get_args(RecheckState))


def test_every_way_in_which_an_ask_can_end_has_one_state_and_every_state_is_reached() -> None:
    reached: set[str] = set()
    for end, day in product(ENDS, (LATEST, LATEST + DAY)):
        found = recheck_state(ask(ended_on=day, **end), day)
        assert found in NAMES and found not in open_states()
        reached.add(found)
    statuses = get_args(RunStatus)
    for status, day in product(statuses, _days()):
        found = recheck_state(ask(status=status), day)
        assert found in open_states()
        reached.add(found)
    assert reached == set(NAMES)


def open_states() -> set[str]:
    return {state.id for state in RECHECK_STATES if state.part == "open"}


def _days() -> tuple[date, ...]:
    return START, EARLIEST - DAY, EARLIEST, LATEST, LATEST + DAY


@pytest.mark.parametrize(
    ("day", "status", "state"),
    [
        (EARLIEST - DAY, "", "not_yet_due"),
        (EARLIEST, "", "in_window"),
        (LATEST, "", "in_window"),
        (LATEST, "booked", "booked"),
        (LATEST + DAY, "", "late"),
        (LATEST + DAY, "booked", "late_booked"),
        (EARLIEST - DAY, "booked", "not_yet_due"),
        (LATEST + DAY, "lost", "lost"),
        (LATEST, "lost", "lost"),
    ],
)
def test_what_is_open_is_told_by_its_window_and_its_contact_run(
    day: date, status: RunStatus, state: str
) -> None:
    assert of(day, status=status) == state


def test_a_look_on_the_latest_day_is_in_time_and_a_day_after_is_late() -> None:
    seen = {"reason": "answered", "at_visit": True}

    assert of(LATEST, ended_on=LATEST, **seen) == "met_in_time"
    assert of(LATEST + DAY, ended_on=LATEST + DAY, **seen) == "met_late"
    assert of(LATEST, ended_on=LATEST + DAY, **seen) == "in_window"


def test_at_the_end_of_its_latest_day_what_is_open_is_late() -> None:
    assert recheck_state(ask(), LATEST, at_end=True) == "late"
    assert ask().missed_by(LATEST, at_end=True) and not ask().missed_by(LATEST)
    assert recheck_state(ask(), LATEST - DAY, at_end=True) == "in_window"


def test_a_look_told_by_others_is_elsewhere() -> None:
    assert of(LATEST, ended_on=LATEST, reason="answered") == "elsewhere"


def test_what_is_moved_after_its_latest_day_was_missed_whatever_the_new_days_are() -> None:
    for to in (LATEST - DAY, LATEST, LATEST + 300 * DAY):
        moved = ask(ended_on=LATEST + DAY, reason="superseded", action="move", moved_to=to)
        assert recheck_state(moved, LATEST + DAY) == "moved_late"
        assert moved.missed_by(LATEST + 900 * DAY)


def test_what_is_brought_forward_is_superseded_and_what_is_put_off_is_moved() -> None:
    sooner = {"ended_on": EARLIEST, "reason": "superseded", "action": "move"}

    assert of(LATEST, moved_to=LATEST - DAY, **sooner) == "replaced"
    assert of(LATEST, moved_to=LATEST + DAY, **sooner) == "moved_later"


def test_what_was_found_to_be_in_error_after_a_miss_was_missed() -> None:
    in_error = {"reason": "entered_in_error", "by": "clara"}

    assert of(LATEST, ended_on=LATEST, **in_error) == "entered_in_error"
    assert of(LATEST + DAY, ended_on=LATEST + DAY, **in_error) == "error_late"
    asks = [ask(), ask(number=2, person=2, ended_on=EARLIEST, reason="answered", at_visit=True)]
    missed = replace(asks[0], ended_on=LATEST + DAY, **in_error)
    before = in_time(account_of_rechecks(asks, Day(LATEST + DAY)))
    after = in_time(account_of_rechecks([missed, asks[1]], Day(LATEST + DAY)))
    assert (before.hits, before.of) == (after.hits, after.of) == (1, 2)


def test_another_ask_in_its_place_is_told_apart_by_the_day() -> None:
    assert of(LATEST, ended_on=LATEST, reason="superseded", at_visit=True) == "replaced"
    late = of(LATEST + DAY, ended_on=LATEST + DAY, reason="superseded", at_visit=True)
    assert late == "replaced_late"


# -- any history ---------------------------------------------------------------------------------


@st.composite
def decided(draw: st.DrawFn, ledger: Ledger) -> Decision:
    """Something that somebody decides about what stands, some time."""
    due = draw(st.sampled_from(ledger.open))
    on = due.asked_on + draw(st.integers(0, 900)) * DAY
    earliest = on + draw(st.integers(0, 400)) * DAY
    return Decision(
        on=on,
        ear=due.ear,
        track=due.track,
        kind=due.kind,
        action=draw(st.sampled_from(["move", "move", "close"])),
        reason=draw(st.sampled_from(["clinician_decision", "informed_decline", "transferred"])),
        earliest=earliest,
        target=earliest,
        latest=earliest + draw(st.integers(0, 200)) * DAY,
    )


@st.composite
def histories(draw: st.DrawFn) -> tuple[Case, list[Decision]]:
    """Somebody's visits, and decisions about what they asked for."""
    case = draw(cases())
    decisions: list[Decision] = []
    for _ in range(draw(st.integers(1, 3))):
        ledger = fold(case, protocol(), date.max, decisions=tuple(decisions))
        if ledger.open:
            decisions.append(draw(decided(ledger)))
            decisions.sort(key=lambda d: d.on)
    return case, decisions


def told(case: Case, decisions: list[Decision]) -> list[Recheck]:
    return asks_of(fold(case, protocol(), date.max, decisions=tuple(decisions)), decisions)


@settings(max_examples=examples(60))
@given(histories(), st.integers(0, 4000))
def test_the_states_of_any_history_sum_to_its_asks(
    story: tuple[Case, list[Decision]], days: int
) -> None:
    asks = told(*story)
    on = date(2018, 1, 1) + timedelta(days=days)
    account = account_of_rechecks(asks, Day(on))

    assert sum(line.asks for line in account.lines()) == account.asks
    assert account.asks == sum(each.asked_on <= on for each in asks)
    assert sum(line.missed for line in account.lines()) == account.missed


@settings(max_examples=examples(60))
@given(histories(), st.data())
def test_no_decision_taken_later_changes_what_was_missed_by_then(
    story: tuple[Case, list[Decision]], data: st.DataObject
) -> None:
    """Misses by a day are the same with and without what people did to the dates after it."""
    case, decisions = story
    on = data.draw(st.sampled_from([d.on for d in decisions])) if decisions else date(2030, 1, 1)
    on -= DAY
    before = [d for d in decisions if d.on <= on]
    without = misses(told(case, before), on)

    assert misses(told(case, decisions), on) == without
    later = on + data.draw(st.integers(0, 2000)) * DAY
    assert misses(told(case, decisions), later) >= without


def misses(asks: list[Recheck], on: date) -> Counter[tuple[Any, ...]]:
    """What had been missed by a day, told apart by what it asked for."""
    return Counter(
        (each.ear, each.track, each.kind, each.asked_on, each.earliest, each.latest)
        for each in asks
        if each.asked_on <= on and each.missed_by(on)
    )
