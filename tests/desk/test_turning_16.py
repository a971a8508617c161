"""Turning 16 with only the mother's number and address: the step is to ask for their own."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from sqlalchemy import update

from recall.desk.contacts.contact_points import add_contact_point
from recall.desk.contacts.entries import ContactPoint
from recall.desk.core.session import Desk, staff_member
from recall.desk.oversight import failsafe
from recall.desk.post.choosing import choose
from recall.desk.worklists.call_card import call_cards_of
from recall.desk.worklists.day_list import on_list, to_ring_on
from recall.records import tables
from recall.records.database.store import Store
from recall.records.facts.events import facts_for
from recall.records.tables.statements import table_of
from tests.desk.posting import refreshed
from tests.desk.practice import DAY, FLUID, desk_at, later, rows, somebody, visit

BIRTHDAY = DAY + timedelta(days=20)


def turning(store: Store, ref: str = "W1", role: str = "responsible_adult") -> Desk:
    """Somebody who turns 16 in the middle of it, and whose every way is an adult's."""
    desk = desk_at(store)
    person = somebody(desk, ref, born=date(2010, BIRTHDAY.month, BIRTHDAY.day))
    if role != "responsible_adult":
        adult = table_of(tables.AdultFor)
        with store.write() as session:
            acts = update(adult).where(adult.c.person_id == person)
            session.execute(acts.values(role=role, instead=True))
    visit(desk, person, right=FLUID)
    return desk


def rung(desk: Desk) -> list[int]:
    with desk.store.read() as session:
        return [place[4] for some in to_ring_on(desk, session) for place in some]


def said_lost(desk: Desk) -> bool:
    nightly = replace(desk, by=staff_member(desk.store, "nightly", desk.today))
    return "cannot_be_contacted" in failsafe.run(nightly).counts


def test_from_the_birthday_the_list_asks_for_their_own_address(store: Store) -> None:
    desk = turning(store)
    before, after = later(desk, 19), later(desk, 20)
    refreshed(before, 1)
    (kept,) = rows(store, tables.FollowUp)
    assert kept["step"] == "invitation"

    assert rung(before) == []
    assert rung(after) == [kept["id"]]
    with store.read() as session:
        (status,) = on_list(after, session, "reach")
        letters = choose(after, session, after.today).chosen
    assert status.status.step is not None
    assert (status.status.step.kind, list(letters)) == ("address_check", [])


def test_the_failsafe_says_that_there_is_no_way_to_reach_them(store: Store) -> None:
    desk = turning(store)

    assert not said_lost(later(desk, 19))
    assert said_lost(later(desk, 20))


def test_a_number_of_their_own_is_rung(store: Store) -> None:
    desk = later(turning(store), 20)
    add_contact_point(desk, "W1", ContactPoint("phone", "07700 900123"))

    (card,) = call_cards_of(desk, "W1")
    assert [n.raw for n in card.numbers] == ["07700 900123"]
    assert not said_lost(desk)


def test_whoever_acts_for_an_adult_without_capacity_goes_on_being_reached(store: Store) -> None:
    desk = later(turning(store, role="attorney"), 20)

    assert not said_lost(desk)
    assert call_cards_of(desk, "W1")[0].step != "address_check"


def test_numbers_are_counted_with_and_without_the_adult_s(store: Store) -> None:
    desk = turning(store)
    with store.read() as session:
        (alone,) = facts_for(session, [rows(store, tables.FollowUp)[0]["id"]]).values()
    add_contact_point(desk, "W1", ContactPoint("phone", "07700 900123"))
    with store.read() as session:
        (both,) = facts_for(session, [rows(store, tables.FollowUp)[0]["id"]]).values()

    assert (alone.one_number, alone.own_one_number) == (True, False)
    assert (both.one_number, both.own_one_number) == (False, True)
