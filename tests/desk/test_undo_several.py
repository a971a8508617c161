"""What was done to several in one go is taken back from all of them, or from none."""

from __future__ import annotations

from datetime import date

import pytest

from recall.desk.contacts.contacting import note
from recall.desk.core import undo
from recall.desk.core.session import Desk
from recall.desk.plans.decisions import Dates, Decided, decide
from recall.errors import Conflict
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    FLUID,
    desk_at,
    history_is_whole,
    open_follow_ups,
    rows,
    somebody,
    visit,
)

MOVED = Dates(date(2026, 10, 19), date(2026, 10, 26), date(2026, 11, 2))


def several(desk: Desk, many: int = 4) -> list[int]:
    """Move the follow-ups of some people in one go; return the numbers of the follow-ups."""
    found = []
    for n in range(many):
        person = somebody(desk, f"W{n}", family_name=f"Thackwell{n}")
        visit(desk, person, right=FLUID)
        found.append(open_follow_ups(desk.store, person)[0]["id"])
    decide(desk, found, Decided("move", "the school term", dates=MOVED))
    return found


def moved(store: Store) -> int:
    return len(rows(store, tables.Decision, action="move"))


def test_all_of_it_is_taken_back_by_one_undo(store: Store) -> None:
    desk = desk_at(store, by="clara")
    several(desk)
    assert moved(store) == 4

    last = undo.last(desk)
    assert last is not None and last.words.startswith("All 4 people (W0, W1, W2 and 1 more): ")
    done = undo.undo(desk)

    assert done.words.startswith("All 4 people (W0, W1, W2 and 1 more): taken back: ")
    assert moved(store) == 0
    assert undo.last(desk) is None
    assert history_is_whole(store)


def test_nothing_is_taken_back_where_something_was_done_about_one_of_them_since(
    store: Store,
) -> None:
    desk = desk_at(store, by="clara")
    several(desk)
    with store.read() as session:
        first = undo.actions(session, desk.today)[0].number
    third = rows(store, tables.Person, ref="W2")[0]["id"]
    (now,) = open_follow_ups(store, third)
    note(desk_at(store, by="rob"), now["id"], "rang: fits well")

    with pytest.raises(Conflict, match=f"done about W2 after action {first}"):
        undo.undo(desk, first)
    assert moved(store) == 4
    assert undo.last(desk) is None


def test_what_was_done_by_itself_is_still_taken_back_by_itself(store: Store) -> None:
    desk = desk_at(store, by="clara")
    (number,) = several(desk, 1)
    decide(desk, [open_follow_ups(store, 1)[0]["id"]], Decided("carry_on", "as planned"))
    assert number

    assert "Rowan Thackwell0, born 2 March 2020" in undo.undo(desk).words
    assert moved(store) == 1
    undo.undo(desk)
    assert moved(store) == 0
