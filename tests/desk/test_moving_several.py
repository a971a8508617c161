"""Moving several people at once: by somebody who may, counted, and no further than the rules."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from recall.desk.plans import decisions
from recall.desk.plans.decisions import Dates, Decided
from recall.errors import Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import DAY, FLUID, desk_at, open_follow_ups, rows, somebody, visit


@pytest.fixture
def two(store: Store) -> list[dict]:
    """Two children with fluid on one side, and what comes of it."""
    desk = desk_at(store)
    found = []
    for ref in ("W1", "W2"):
        person = somebody(desk, ref)
        visit(desk, person, right=FLUID)
        found.append(dict(open_follow_ups(store, person)[0]))
    return found


def moving(store: Store, two: list[dict], latest: date, on: date = DAY, by: str = "clara") -> None:
    days = Dates(latest, latest, latest)
    said = Decided("move", "the clinic is closed for two weeks", considered=True, dates=days)
    decisions.decide(desk_at(store, on, by), [row["id"] for row in two], said)


def last_day(store: Store, two: list[dict]) -> date:
    """A quarter of the days from the ask to the target, after the latest day."""
    (due,) = rows(store, tables.Due, person_id=two[0]["person_id"])
    return due["latest"] + timedelta(days=(due["target"] - due["asked_on"]).days // 4)


def test_several_go_as_far_as_a_quarter_of_what_was_asked_and_no_further(
    store: Store, two: list[dict]
) -> None:
    last = last_day(store, two)
    shown = decisions.preview(desk_at(store, by="clara"), [r["id"] for r in two], "move")
    assert {m.furthest for m in shown} == {last}

    with pytest.raises(Refused, match="cannot be moved so") as refused:
        moving(store, two, last + timedelta(days=1))
    assert "at most" in str(refused.value.hint)
    assert rows(store, tables.Decision) == []
    moving(store, two, last)
    assert len(rows(store, tables.Decision)) == 2


def test_who_was_moved_among_others_is_not_moved_so_again(store: Store, two: list[dict]) -> None:
    last = last_day(store, two)
    moving(store, two, last)
    again = [dict(open_follow_ups(store, row["person_id"])[0]) for row in two]

    with pytest.raises(Refused) as refused:
        moving(store, again, last, DAY + timedelta(days=1))
    assert "it was moved before" in str(refused.value.hint)
    moving(store, again[:1], last + timedelta(days=200), DAY + timedelta(days=1))


def test_what_is_late_is_moved_one_by_one(store: Store, two: list[dict]) -> None:
    late = two[0]["latest"] + timedelta(days=1)

    with pytest.raises(Refused) as refused:
        moving(store, two, late, late)
    assert "its latest day has gone by" in str(refused.value.hint)
    moving(store, two[:1], late, late)


def test_a_move_of_several_needs_the_right_that_closing_needs(
    store: Store, two: list[dict]
) -> None:
    for by in ("rob", "mina"):
        with pytest.raises(Refused, match="may not"):
            moving(store, two, last_day(store, two), by=by)
