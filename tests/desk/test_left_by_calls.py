"""What a call leaves behind: a matter for the interpreter, one answer for all under a number."""

from __future__ import annotations

import pytest

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.people.editing import record_objection
from recall.desk.people.person_card import contact_stopped_for
from recall.desk.practice.matters import Entry, write_down
from recall.desk.worklists.call_lines import others_on_line
from recall.errors import Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, desk_at, later, open_follow_ups, rows, somebody, visit


@pytest.fixture
def home(store: Store) -> Desk:
    """Three people whose one number is the same, each with something open, a day later."""
    desk = desk_at(store)
    for ref in ("W1", "W2", "W3"):
        visit(desk, somebody(desk, ref), right=FLUID)
    return later(desk, 1)


def first(desk: Desk, person: int) -> int:
    number: int = open_follow_ups(desk.store, person)[0]["id"]
    return number


@pytest.mark.parametrize(("note", "text"), [("Polish", "Polish"), (" ", "was not said")])
def test_an_interpreter_is_somebodys_to_see_to_in_whichever_language(
    home: Desk, note: str, text: str
) -> None:
    said = Attempt("phone", "needs_interpreter", note)
    done = contacting.log_contact(home, first(home, 1), None, said)
    assert "An interpreter to book, for reception by" in done.words
    (matter,) = rows(home.store, tables.Matter)
    assert matter["kind"] == "interpreter" and text in matter["text"]
    undo(home)
    assert rows(home.store, tables.Matter) == []


def test_one_interpreter_is_asked_for_once(home: Desk) -> None:
    write_down(home, "W1", Entry("interpreter", "Polish"))
    contacting.log_contact(home, first(home, 1), None, Attempt("phone", "needs_interpreter"))
    assert len(rows(home.store, tables.Matter)) == 1


def test_nobody_answered_is_recorded_for_all_under_the_number_and_taken_back_as_one(
    home: Desk,
) -> None:
    numbers = [first(home, person) for person in (1, 2, 3)]
    contacting.log_contact(home, numbers[0], None, Attempt("phone", "call_again_on", by_them=True))
    week = later(home, 7)
    for number in numbers[1:]:
        said = Attempt("phone", "call_again_on", by_them=True)
        contacting.log_contact(home, number, None, said)
    others = others_on_line(week, numbers[0])
    assert sorted(others) == numbers[1:]
    done, counted = contacting.log_for_line(
        week, numbers[0], None, others, Attempt("phone", "no_answer")
    )
    assert "The same for 2 more on this number." in done.words
    assert sorted(counted) == numbers[1:]
    made = rows(home.store, tables.Contact, outcome="no_answer")
    assert sorted(each["follow_up_id"] for each in made) == numbers
    undo(week)
    assert rows(home.store, tables.Contact, outcome="no_answer") == []


def test_whom_another_desk_has_in_hand_is_left_out_and_only_nobody_answered_is_for_all(
    home: Desk, store: Store
) -> None:
    numbers = [first(home, person) for person in (1, 2, 3)]
    other = later(desk_at(store, by="clara"), 1)
    contacting.claim(other, numbers[1])
    _done, counted = contacting.log_for_line(
        home, numbers[0], None, numbers[1:], Attempt("phone", "no_answer")
    )
    assert counted == (numbers[2],)
    with pytest.raises(Refused, match="about one person"):
        contacting.log_for_line(home, numbers[0], None, numbers, Attempt("phone", "in_hospital"))


def test_of_whoever_is_found_it_is_known_that_nobody_may_ring(home: Desk) -> None:
    record_objection(home, "W2")
    found = contact_stopped_for(home, ["W1", "W2", "nobody"])
    assert found == {"W2": "asked not to be contacted (2 September 2026)"}
