"""What is on which list of a day, and in which order; which list shows what is ours to decide."""

from __future__ import annotations

from datetime import date, time, timedelta
from typing import Any

import msgspec
import pytest

from recall.loop.day import DayRow, Place, View, belongs, due_on, listed, on_view, to_ring
from recall.loop.facts import Closed
from tests.loop.tell import RULES, facts
from tests.loop.test_stories import URGENT

DAY = date(2026, 10, 13)


def row(number: int = 1, **more: Any) -> DayRow:
    usual = {
        "person": number,
        "number": number,
        "urgency": "medium",
        "step": "phone",
        "step_on": DAY,
        "latest": date(2026, 10, 27),
    }
    return DayRow(**{**usual, **more})


VIEWS: tuple[View, ...] = ("reach", "reach_or_write", "clinician", "overdue", "lost", "open")


@pytest.mark.parametrize(
    ("known", "views"),
    [
        (row(), {"reach", "reach_or_write", "open"}),
        (row(step="reminder"), {"reach_or_write", "open"}),
        (row(step_on=date(2026, 10, 14)), {"open"}),
        (row(step="attend"), {"open"}),
        (row(step="decision", is_lost=True), {"lost", "open"}),
        (row(step="decision"), {"clinician", "open"}),
        (row(step="list_look"), {"clinician", "open"}),
        (row(step="clinician_call"), {"clinician", "open"}),
        (row(step="address_check"), {"reach", "reach_or_write", "open"}),
        (row(latest=DAY), {"reach", "reach_or_write", "open"}),
        (
            row(latest=date(2026, 10, 12)),
            {"reach", "reach_or_write", "overdue", "open"},
        ),
        (row(step="attend", latest=date(2026, 10, 12)), {"overdue", "open"}),
    ],
)
def test_each_row_is_on_its_lists(known: DayRow, views: set[View]) -> None:
    assert {view: belongs(known, DAY, view) for view in VIEWS} == {v: v in views for v in VIEWS}
    assert {view for view in VIEWS if listed([known], DAY, view) == (known,)} == views


def test_the_most_pressing_comes_first_and_each_person_has_one_line_where_somebody_acts() -> None:
    urgent = row(1, person=7, urgency="urgent")
    theirs = row(2, person=7, urgency="low", latest=date(2026, 12, 1))
    sooner = row(3, person=5, latest=date(2026, 10, 20))
    later = row(4, person=4)
    earlier_step = row(5, person=6, step_on=date(2026, 10, 12))
    worse = row(6, person=8, urgency="low", step="clinician_call", latest=date(2027, 1, 1))

    rows = [theirs, later, urgent, sooner, worse, earlier_step]

    assert [r.number for r in listed(rows, DAY, "open")] == [6, 1, 2, 3, 5, 4]
    assert [r.number for r in listed(rows, DAY, "reach")] == [1, 3, 5, 4]
    assert [r.number for r in listed(rows, DAY, "clinician")] == [6]


def test_whoever_is_rung_stands_where_the_day_of_the_call_puts_them() -> None:
    """Of those that press as much; the line stays that of the step in hand, parts stay parts."""
    soon = row(1, person=5, latest=DAY + timedelta(7))
    late_too = row(2, person=7, latest=DAY + timedelta(9))
    theirs = row(3, person=7, latest=DAY + timedelta(20))
    high = row(4, person=8, urgency="high", latest=DAY + timedelta(30))
    promised = row(5, person=9, at=time(9), promised=True)
    tail = row(6, person=4, at=time(15), latest=DAY + timedelta(1))
    by = {7: DAY - timedelta(100), 4: DAY - timedelta(200), 8: DAY + timedelta(25)}
    rows = [tail, soon, theirs, late_too, promised, high]

    def has_come(_day: date, at: time) -> bool:
        return at < time(12)

    assert [r.number for r in listed(rows, DAY, "reach", has_come)] == [5, 4, 1, 2, 6]
    in_turn = listed(rows, DAY, "reach", has_come, by)
    assert [r.number for r in in_turn] == [5, 4, 2, 1, 6]

    def settled(steps: frozenset[str]) -> list[Place]:
        ranks = {"high": 2, "medium": 3}
        kept = [r for r in (soon, theirs, late_too, high) if r.step in steps]
        return [(ranks[r.urgency], str(r.latest), str(r.step_on), r.person, r.number) for r in kept]

    parts = to_ring([tail, promised], settled, DAY, "reach", has_come, by)
    assert [p[4] for part in parts for p in part] == [r.number for r in in_turn]
    assert parts[1][1][1] == str(by[7])


def test_a_persons_line_is_the_most_pressing_step_of_whoever_acts() -> None:
    letter = row(1, person=7, urgency="high", step="reminder")
    call = row(2, person=7, urgency="low")
    decision = row(3, person=7, urgency="medium", step="decision")
    rows = [call, letter, decision]

    lines = {view: [r.number for r in listed(rows, DAY, view)] for view in VIEWS}

    assert lines["reach"] == [2]
    assert lines["reach_or_write"] == [1]
    assert lines["clinician"] == [3]
    assert lines["open"] == [1, 3, 2]


def test_who_has_died_is_on_nobodys_call_list() -> None:
    dead = facts(**URGENT, died_on=date(2026, 10, 1))
    for view in ("reach", "reach_or_write"):
        assert due_on([(1, 11, dead)], DAY, RULES, view) == ()
    assert [r.number for r in due_on([(1, 11, dead)], DAY, RULES, "clinician")] == [11]


def test_from_facts_what_is_closed_is_due_no_more() -> None:
    closed = facts(events=(Closed(on=date(2026, 10, 1), reason="answered"),))

    found = due_on(
        [(1, 11, facts()), (2, 12, closed), (3, 13, facts(**URGENT))], DAY, RULES, "open"
    )

    assert [(r.person, r.number, r.urgency) for r in found] == [
        (3, 13, "urgent"), (1, 11, "medium"),
    ]  # fmt: skip


def test_who_came_today_is_rung_about_nothing_until_tomorrow() -> None:
    came = row(1, person=7, step="type_visit", step_on=DAY + timedelta(1))
    call, pressing = row(2, person=7), row(3, person=7, urgency="urgent")
    promised = row(4, person=7, at=time(15), promised=True)
    other = row(5, person=8)
    asked = row(6, person=7, step="record_attendance")

    def rung(*rows: DayRow, on: date = DAY) -> list[int]:
        return [r.number for r in on_view(rows, on, "reach")]

    assert rung(came, call, pressing, promised, other, asked) == [5, 6]
    assert rung(came, call, other, on=DAY + timedelta(1)) == [1, 2, 5]
    assert rung(msgspec.structs.replace(came, step_on=DAY + timedelta(2)), call) == [2]
    clinician = row(7, person=7, step="decision")
    assert [r.number for r in on_view((came, clinician), DAY, "clinician")] == [7]


def test_who_told_us_what_a_clinician_answers_is_rung_about_nothing_that_can_wait() -> None:
    result = row(1, person=7, step="ask_result", step_on=date(2026, 10, 27), told=True)
    call = row(2, person=7)
    pressing = row(3, person=7, urgency="urgent")
    promised = row(4, person=7, at=time(15), promised=True)
    came = row(5, person=7, step="record_attendance")
    letter = row(6, person=7, step="reminder")
    worse = row(7, person=7, step="clinician_call", told=True)

    def rung(*rows: DayRow, view: View = "reach") -> list[int]:
        return [r.number for r in on_view(rows, DAY, view)]

    assert rung(call) == [2]
    assert rung(result, call, pressing, promised, came) == [3, 4, 5]
    assert rung(worse, call, pressing, promised, came) == [5]
    assert rung(worse, result, call, pressing) == rung(result, worse, call, pressing) == []
    assert rung(result, call, letter, view="reach_or_write") == [6]
    assert rung(worse, result, call, view="clinician") == [7]
    assert rung(result, call, view="open") == [1, 2]
    assert rung(row(8, person=7, step="decision"), call) == [2]  # asked by nobody on a call
