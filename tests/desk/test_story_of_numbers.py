"""The story of a person says what became of a number or address, and why."""

from __future__ import annotations

import pytest
from sqlalchemy import select, update

from recall.desk.contacts.contact_points import add_contact_point, end_contact_point
from recall.desk.contacts.contacting import log_contact
from recall.desk.contacts.entries import Attempt, ContactPoint
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.people.timeline import timeline
from recall.desk.worklists.call_card import call_cards_of
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, desk_at, later, rows, somebody, visit
from tests.desk.test_numbers import ring

WRONG = "was struck. Wrong number: nobody there knows them."


@pytest.fixture
def home(store: Store) -> Desk:
    """Two people whose one number is the same, each with something open, a day later."""
    desk = desk_at(store)
    for ref in ("W1", "W2"):
        visit(desk, somebody(desk, ref), right=FLUID)
    return later(desk, 1)


def told(desk: Desk, ref: str = "W1") -> list[str]:
    """What the story says of numbers and addresses, without the days."""
    said = [str(each).partition(": ")[2] for each in timeline(desk, ref)]
    assert not any("Contact point" in each for each in said)
    ways = [each for each in said if each.startswith(("Number ", "Address "))]
    return [each for each in ways if "recorded" not in each]


def own(desk: Desk, ref: str = "W1", kind: str = "phone") -> tuple[int, str]:
    """A person's first number or address: its place in the register, and as it was given."""
    person = rows(desk.store, tables.Person, ref=ref)[0]["id"]
    found = rows(desk.store, tables.ContactPoint, person_id=person, kind=kind)[0]
    return found["id"], ", ".join(found["raw"].splitlines())


def test_a_number_that_was_wrong_says_so_and_by_whom(home: Desk) -> None:
    _, number = own(home)
    ring(home, "W1", "wrong_number")
    assert told(home) == [f"Number {number} {WRONG} ({home.by.handle})"]


def test_whoever_else_had_it_is_told_that_it_was_dialled_for_another(home: Desk) -> None:
    _, number = own(home, "W2")
    ring(home, "W1", "wrong_number")
    (said,) = told(home, "W2")
    assert said.startswith(f"Number {number} {WRONG} It was dialled for somebody else who has it.")
    assert "W1" not in said


def test_a_number_that_is_right_for_others_says_that(home: Desk) -> None:
    ring(home, "W1", "not_here")
    assert "was struck. Not here any more: the number is right for others." in told(home)[0]
    assert told(home, "W2") == []


def test_what_was_taken_back_stands_again(home: Desk) -> None:
    _, number = own(home)
    ring(home, "W1", "wrong_number")
    undo(home)
    assert told(home)[1] == f"Number {number} stands again: that was taken back. ({home.by.handle})"


def test_an_end_by_hand_is_told_once_with_its_words(home: Desk) -> None:
    place, number = own(home)
    end_contact_point(home, place, "The line was given up.")
    (said,) = told(home)
    assert said.startswith(f"Number {number} is right no longer: The line was given up.")


def test_a_new_address_is_told_with_the_old_one(home: Desk) -> None:
    place, old = own(home, kind="address")
    point = ContactPoint("address", "2 Fell Row\nWrenfield\nWR9 9ZZ")
    add_contact_point(home, "W1", point, instead_of=place)
    said = f"Address {old} was replaced: Address 2 Fell Row, Wrenfield, WR9 9ZZ."
    assert said in told(home)[0]


def test_a_best_time_stands_by_its_number(home: Desk) -> None:

    place, number = own(home)
    card = call_cards_of(home, "W1")[0]
    attempt = Attempt("phone", "no_answer", contact_point_id=place, best_time="after five")
    log_contact(home, card.follow_up, card.version, attempt)
    assert f"Number {number}, changed: best time from nothing to after five." in told(home)[0]


def test_where_the_words_of_an_end_were_erased_the_story_says_so(home: Desk) -> None:
    place, number = own(home)
    end_contact_point(home, place, "The line was given up.")
    with home.store.write() as session:
        noted = select(tables.History.id).where(tables.History.what == "noted")
        kept = tables.HistoryPayload.__table__
        session.execute(update(kept).where(kept.c.history_id.in_(noted)).values(content=None))

    assert told(home) == [
        f"Number {number} is right no longer: the words were erased. ({home.by.handle})"
    ]
