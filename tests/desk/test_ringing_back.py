"""Whoever rings back is found by number or name, with what they were rung about at the top."""

from __future__ import annotations

from datetime import datetime, time

from sqlalchemy import update

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.people.person_card import person
from recall.desk.people.ringing_back import who_rings
from recall.desk.worklists.call_card import call_cards_of
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, desk_at, later, open_follow_ups, somebody, visit


def rung(desk: Desk, ref: str, outcome: str, note: str = "") -> None:
    number = somebody(desk, ref, family_name=f"Thackwell{ref}")
    visit(desk, number, right=FLUID)
    found = open_follow_ups(desk.store, number)[0]["id"]
    contacting.log_contact(desk, found, None, Attempt("phone", outcome, note))


def test_those_rung_today_stand_there_before_anything_is_typed(store: Store) -> None:
    desk = desk_at(store)
    rung(desk, "W1", "no_answer")
    rung(desk, "W2", "left_message")
    somebody(desk, "W3", family_name="Quill")

    assert [each.found.ref for each in who_rings(desk, " ", 9)] == ["W2", "W1"]
    assert who_rings(later(desk, 1), "", 9) == ()


def test_whoever_rings_is_found_by_the_last_digits_those_rung_today_first(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk, "W0", family_name="Abel")
    rung(desk, "W1", "no_answer")

    found = who_rings(desk, "0321", 9)

    assert [(each.found.ref, bool(each.rung_at)) for each in found] == [("W1", True), ("W0", False)]


def test_what_it_was_about_stands_on_top_as_it_may_be_said(store: Store) -> None:
    desk = desk_at(store)
    rung(desk, "W1", "left_message", "with the neighbour [/b]")

    (words,) = person(desk, "W1").rung

    assert words.startswith("Rung today at ") and " by rob: left a message" in words
    assert "(with the neighbour [/b])" in words
    assert words.endswith(f"About: {call_cards_of(desk, 'W1')[0].why}")
    assert person(later(desk, 1), "W1").rung == ()


def test_what_was_promised_ends_with_the_booking_and_stands_again_without_it(
    store: Store,
) -> None:
    desk = desk_at(store)
    rung(desk, "W1", "will_call_back")
    assert "will call back" in person(desk, "W1").rung[0]

    card = call_cards_of(desk, "W1")[0]
    day = desk.calendar.open_from(card.earliest)
    assert day is not None
    at = datetime.combine(day, time(10))
    bookings.book(desk, card.follow_up, None, Booking(at, channel="phone", by_them=True))
    assert person(desk, "W1").rung == ()
    assert [each.found.ref for each in who_rings(desk, "", 9)] == ["W1"]

    undo(desk)
    assert "will call back" in person(desk, "W1").rung[0]


def test_a_call_of_theirs_is_none_of_ours(store: Store) -> None:
    desk = desk_at(store)
    number = somebody(desk)
    visit(desk, number, right=FLUID)
    found = open_follow_ups(store, number)[0]["id"]
    contacting.log_contact(desk, found, None, Attempt("phone", "will_call_back", by_them=True))

    assert who_rings(desk, "", 9) == ()


def test_what_was_written_down_last_stands_beside_the_number(store: Store) -> None:
    desk = desk_at(store)
    rung(desk, "W1", "no_answer", "works nights")
    found = open_follow_ups(store, 1)[0]["id"]
    contacting.note(later(desk, 1), found, "ring after four")
    contacting.note(later(desk, 2), found, "deaf in the left ear [Jr")

    (card,) = call_cards_of(later(desk, 2), "W1")

    assert card.notes == (
        "3 September 2026: deaf in the left ear [Jr",
        "2 September 2026: ring after four",
    )


def test_what_has_no_words_of_its_own_to_be_said_aloud_is_said_as_usual(store: Store) -> None:
    desk = desk_at(store)
    rung(desk, "W1", "no_answer")
    with store.write() as session:
        session.execute(update(tables.Due.__table__).values(says_aloud=""))

    assert person(desk, "W1").rung[0].endswith("About: It is time for another visit.")
