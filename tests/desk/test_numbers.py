"""A number is its value: struck for everybody who has it, or for one person alone.

That one call never silences a home is common practice, no published source.
"""

from __future__ import annotations

from datetime import date, datetime

import pytest
from sqlalchemy import insert

from recall.desk.contacts import bookings, contact_points, contacting
from recall.desk.contacts.contact_points import add_contact_point
from recall.desk.contacts.entries import Attempt, Booking, ContactPoint
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.people.person_card import find
from recall.desk.post.choosing import choose
from recall.desk.worklists.call_card import call_cards_of
from recall.errors import Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import DAY, FLUID, desk_at, later, open_follow_ups, rows, somebody, visit

HOME = "+441632960321"


@pytest.fixture
def home(store: Store) -> Desk:
    """Three people whose one number is the same, each with something open, a day later."""
    desk = desk_at(store)
    for ref in ("W1", "W2", "W3"):
        visit(desk, somebody(desk, ref), right=FLUID)
    return later(desk, 1)


def numbers(desk: Desk, ref: str) -> list[str]:
    return [number.said for number in call_cards_of(desk, ref)[0].numbers]


def ring(desk: Desk, ref: str, outcome: str) -> str:
    card = call_cards_of(desk, ref)[0]
    attempt = Attempt("phone", outcome, contact_point_id=card.contact_point_id)
    return contacting.log_contact(desk, card.follow_up, card.version, attempt).words


def steps(desk: Desk) -> list[str]:
    return [call_cards_of(desk, ref)[0].step for ref in ("W1", "W2", "W3")]


def written_to(desk: Desk, ref: str) -> bool:
    """Return whether a person gets a letter in any week of a year from a day."""
    number = call_cards_of(desk, ref)[0].follow_up
    for weeks in range(1, 53):
        on = later(desk, 7 * weeks)
        with on.store.read() as session:
            if any(c.follow_up_id == number for c in choose(on, session, on.today).chosen):
                return True
    return False


def test_a_wrong_number_is_struck_for_everybody_who_has_it(home: Desk) -> None:
    said = ring(home, "W1", "wrong_number")

    assert "is struck for 3 people who have it. No other number is recorded." in said
    assert [numbers(home, ref) for ref in ("W1", "W2", "W3")] == [[], [], []]
    assert "check the address and numbers" in said


def test_those_who_lost_their_only_number_are_planned_as_that_asks(home: Desk) -> None:
    before = steps(home)
    ring(home, "W1", "wrong_number")

    card = call_cards_of(home, "W2")[0]
    row = rows(home.store, tables.FollowUp, id=card.follow_up)[0]
    assert (card.step, card.next_step_on) == (row["step"], row["next_step_on"])
    words = undo(home).words
    assert "taken back: Wrong number: nobody there knows them. " in words
    assert "is rung again." in words and "struck" not in words
    assert steps(home) == before
    assert numbers(home, "W2") == [f"{HOME} (Ida Thackwell)"]
    assert len(find(home, HOME)) == 3


def test_not_here_any_more_leaves_the_number_to_all_others(home: Desk) -> None:
    said = ring(home, "W2", "not_here")

    assert "Struck" not in said
    assert [len(numbers(home, ref)) for ref in ("W1", "W2", "W3")] == [1, 0, 1]
    assert call_cards_of(home, "W2")[0].step == "address_check"


def test_no_letter_goes_to_a_home_that_somebody_is_said_to_have_left(home: Desk) -> None:
    add_contact_point(home, "W1", ContactPoint("phone", "07700 900005"))
    assert written_to(home, "W1")

    assert "Next number: 07700 900005." in ring(home, "W1", "not_here")
    assert not written_to(home, "W1") and written_to(home, "W2")
    ring(home, "W1", "no_answer")
    card = call_cards_of(later(home, 1), "W1")[0]
    assert card.step == "address_check" and not written_to(home, "W1")

    how = "Asked on the other number"
    contacting.address_checked(later(home, 1), card.follow_up, None, how, still_there=True)
    assert written_to(home, "W1")


def test_what_is_out_of_reach_waits_for_the_address_too_and_undo_gives_it_back(home: Desk) -> None:
    ring(home, "W1", "not_here")
    moved = [rows(home.store, tables.Person, ref=ref)[0]["moved_on"] for ref in ("W1", "W2")]
    assert moved == [home.today, None]
    undo(home)
    assert rows(home.store, tables.Person, ref="W1")[0]["moved_on"] is None


def test_a_new_address_is_written_to_once_it_is_recorded(home: Desk) -> None:
    ring(home, "W1", "not_here")
    assert rows(home.store, tables.Person, ref="W1")[0]["moved_on"] == home.today
    assert rows(home.store, tables.Person, ref="W2")[0]["moved_on"] is None
    add_contact_point(home, "W1", ContactPoint("address", "9 Teasel Row\nWrenfield", "WR9 9ZX"))
    assert rows(home.store, tables.Person, ref="W1")[0]["moved_on"] is None


def test_the_same_number_written_otherwise_is_the_same(home: Desk) -> None:
    add_contact_point(home, "W3", ContactPoint("phone", "(01632) 960 321", label="nan"))
    ring(home, "W1", "wrong_number")

    assert numbers(home, "W3") == []


def test_the_next_number_is_offered_now_with_whose_it_is(home: Desk) -> None:
    add_contact_point(home, "W1", ContactPoint("phone", "07700 900004 (gran) or 07700 900005"))
    said = ring(home, "W1", "wrong_number")

    assert "Next number: 07700 900004 (gran)." in said
    card = call_cards_of(home, "W1")[0]
    assert (card.step, card.next_step_on) == ("phone", home.today)
    ring(home, "W1", "wrong_number")
    assert numbers(home, "W1") == ["07700 900005"]


def test_numbers_come_in_the_order_to_try_and_what_only_a_person_reads_last(
    home: Desk,
) -> None:
    for raw in ("077OO 900004 after tea", "07700 900005"):
        add_contact_point(home, "W1", ContactPoint("phone", raw))

    assert numbers(home, "W1") == [
        f"{HOME} (Ida Thackwell)",
        "07700 900005",
        "077OO 900004 after tea",
    ]


def test_a_wrong_number_that_only_a_person_reads_leaves_the_others_like_it(home: Desk) -> None:
    for ref, raw in (("W1", "077OO 900004 tea"), ("W1", "077OO 900004 late"), ("W2", "nan's")):
        add_contact_point(home, ref, ContactPoint("phone", raw))
    ring(home, "W1", "wrong_number")
    assert numbers(home, "W1") == ["077OO 900004 tea", "077OO 900004 late"]

    assert "077OO 900004 tea is struck." in ring(home, "W1", "wrong_number")

    assert numbers(home, "W1") == ["077OO 900004 late"]
    assert numbers(home, "W2") == ["nan's"]


def test_a_carers_number_is_offered_after_the_persons_own(store: Store) -> None:
    desk = desk_at(store)
    person = somebody(desk, born=date(1940, 1, 1), adult=False)
    visit(desk, person, right=FLUID)
    made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id}
    adult = {"person_id": person, "name": "Teasel House", "role": "care_home", **made}
    with desk.store.write() as session:
        row = insert(tables.AdultFor.__table__).values(**adult).returning(tables.AdultFor.id)
        adult_id = session.execute(row).scalar_one()
    add_contact_point(desk, "W1", ContactPoint("phone", "01632 960999", adult_id=adult_id))

    assert numbers(desk, "W1") == [HOME, "01632 960999 (Teasel House)"]


def test_only_a_safe_number_is_offered_where_one_is_the_only_safe_one(home: Desk) -> None:
    add_contact_point(home, "W1", ContactPoint("phone", "07700 900005", safe="only_this"))
    add_contact_point(home, "W1", ContactPoint("phone", "07700 900006", safe="no"))

    assert numbers(home, "W1") == ["07700 900005"]


def test_what_was_not_named_is_the_number_that_was_shown(home: Desk) -> None:
    number = open_follow_ups(home.store, 1)[0]["id"]
    contacting.log_contact(home, number, None, Attempt("phone", "wrong_number"))

    (made,) = rows(home.store, tables.Contact)
    assert made["contact_point_id"] is not None
    assert numbers(home, "W2") == []


def test_nobody_was_rung_where_no_number_is_recorded(store: Store) -> None:
    """One sentence and what to do; what they told us themselves is taken down all the same."""
    desk = desk_at(store, DAY)
    number = no_number(desk)
    for outcome in ("no_answer", "will_call_back", "wrong_number", "not_here"):
        with pytest.raises(Refused, match="No number is recorded for W1") as refused:
            contacting.log_contact(desk, number, None, Attempt("phone", outcome))
        assert "a call of theirs" in refused.value.hint
    assert rows(store, tables.Contact) == []
    rung = Attempt("phone", "will_call_back", by_them=True)
    contacting.log_contact(desk, number, None, rung)
    contacting.log_contact(desk, number, None, Attempt("letter", "message_sent"))
    contacting.log_contact(desk, number, None, Attempt("phone", "worse"))
    contacting.log_contact(desk, number, None, Attempt("phone", "in_hospital"))
    contacts = rows(store, tables.Contact)
    assert [(each["outcome"], each["by_them"]) for each in contacts] == [
        ("will_call_back", True),
        ("message_sent", False),
        ("worse", True),
        ("in_hospital", True),
    ]


def test_an_appointment_without_a_number_was_agreed_on_a_call_of_theirs(store: Store) -> None:
    desk = desk_at(store, DAY)
    number = no_number(desk)
    bookings.book(desk, number, None, Booking(datetime(2026, 10, 13, 10), channel="phone"))
    (contact,) = rows(store, tables.Contact)
    assert (contact["outcome"], contact["by_them"]) == ("booked", True)


def no_number(desk: Desk) -> int:
    """Make a child to whose mother nobody can ring; return what is open."""
    person = somebody(desk)
    visit(desk, person, right=FLUID)
    for row in rows(desk.store, tables.ContactPoint, person_id=person, kind="phone"):
        contact_points.end_contact_point(desk, row["id"], "given up")
    number: int = open_follow_ups(desk.store, person)[0]["id"]
    return number


def test_the_same_number_given_again_is_said_and_not_added(store: Store) -> None:
    """However it is written; what is new beside it is taken, and an adult's is the adult's."""
    desk = desk_at(store)
    somebody(desk, "W1")
    add_contact_point(desk, "W1", ContactPoint("phone", "07700 900123"))
    before = len(rows(store, tables.ContactPoint))

    with pytest.raises(Refused, match="recorded already: nothing was added"):
        add_contact_point(desk, "W1", ContactPoint("phone", "+44 7700 900 123"))
    assert len(rows(store, tables.ContactPoint)) == before

    add_contact_point(desk, "W1", ContactPoint("phone", "07700 900123 / 01632 960999"))
    assert [row["raw"] for row in rows(store, tables.ContactPoint)[before:]] == ["01632 960999"]


def test_an_address_given_again_says_that_they_are_there_after_all(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk, "W1")
    home = ContactPoint("address", "1 Quarry Steps\nWrenfield", "WF99 4QS")
    add_contact_point(desk, "W1", home)
    before = len(rows(store, tables.ContactPoint))

    add_contact_point(desk, "W1", home)

    assert len(rows(store, tables.ContactPoint)) == before + 1
