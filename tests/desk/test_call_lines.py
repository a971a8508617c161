"""One line for each number to ring, its people under it. Common practice, no published source."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta

import pytest
from sqlalchemy import update
from sqlalchemy.orm import Session

from recall.desk.contacts import contacting
from recall.desk.contacts.contact_points import add_contact_point
from recall.desk.contacts.entries import Attempt, ContactPoint
from recall.desk.core.session import Desk
from recall.desk.worklists import status_on
from recall.desk.worklists.call_card import call_cards, call_cards_of, order
from recall.desk.worklists.call_lines import call_lines, others_on_line
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, desk_at, later, rows, somebody, visit

HOME = tuple(f"W{n}" for n in range(1, 11))


def number(desk: Desk, ref: str) -> int:
    return call_cards_of(desk, ref)[0].follow_up


def lines(desk: Desk) -> list[list[str]]:
    """Return the lines by the references of the people."""
    refs = {number(desk, ref): ref for ref in (*HOME, "W11")}
    return [[refs[one.follow_up] for one in line] for line in call_lines(desk)]


def ring_all(desk: Desk, **more: object) -> None:
    """Agree with everybody to ring again the next day."""
    for ref in (*HOME, "W11"):
        until = desk.today + timedelta(days=1)
        attempt = Attempt("phone", "call_again_on", until=until, **more)  # type: ignore[arg-type]
        contacting.log_contact(desk, number(desk, ref), None, attempt)


@pytest.fixture
def ten(store: Store) -> Desk:
    """Ten people with one number, and one with another of their own, all to be rung tomorrow."""
    desk = desk_at(store)
    for ref in (*HOME, "W11"):
        visit(desk, somebody(desk, ref), right=FLUID)
    for way in call_cards_of(desk, "W11")[0].numbers:
        contacting.log_contact(
            desk, number(desk, "W11"), None,
            Attempt("phone", "not_here", contact_point_id=way.contact_point_id),
        )  # fmt: skip
    add_contact_point(desk, "W11", ContactPoint("phone", "07700 900005"))
    ring_all(desk)
    return later(desk, 1)


def test_a_home_of_ten_is_one_line_with_its_people_in_order(ten: Desk) -> None:
    assert lines(ten) == [list(HOME), ["W11"]]
    assert [one.follow_up for line in call_lines(ten) for one in line] == list(order(ten))
    first, alone = call_lines(ten)
    assert first[0].name == "Rowan Thackwell" and alone[0].name == ""


def test_each_is_still_rung_about_alone_and_the_others_stay_on_the_line(ten: Desk) -> None:
    contacting.log_contact(ten, number(ten, "W1"), None, Attempt("phone", "left_message"))
    assert lines(ten) == [list(HOME[1:]), ["W11"]]


@pytest.mark.parametrize("name", ["Ida  thackwell", "Perdita Thackwell"])
def test_who_is_asked_for_about_another_child_too_is_spoken_to_in_one_call(
    store: Store, name: str
) -> None:
    """The mother of both is rung on another number first for the second; one other is no mother."""
    desk = desk_at(store)
    for ref in ("W1", "W2"):
        visit(desk, somebody(desk, ref), right=FLUID)
    mother = rows(store, tables.AdultFor)[1]["id"]
    add_contact_point(desk, "W2", ContactPoint("phone", "07700 900005", adult_id=mother))
    with store.write() as session:
        c, a = tables.ContactPoint.__table__, tables.AdultFor.__table__
        session.execute(update(c).where(c.c.value == "+447700900005").values(rank=-1))
        session.execute(update(a).where(a.c.id == mother).values(name=name))
    first, second = (number(desk, ref) for ref in ("W1", "W2"))
    again = {"until": desk.today + timedelta(days=1)}
    for one in (first, second):
        attempt = Attempt("phone", "call_again_on", **again)  # type: ignore[arg-type]
        contacting.log_contact(desk, one, None, attempt)
    then = later(desk, 1)
    (card,) = call_cards_of(then, "W2")
    assert [one.value for one in card.numbers] == ["+447700900005", "+441632960321"]

    found = [[one.follow_up for one in line] for line in call_lines(then)]
    assert found == ([[first, second]] if name.startswith("Ida") else [[first], [second]])
    assert others_on_line(then, first) == others_on_line(then, second) == ()


def test_a_mother_with_a_number_of_her_own_for_one_is_known_by_the_home_s(store: Store) -> None:
    """What both can be rung on stands as the second child's own, not as the mother's."""
    desk = desk_at(store)
    for ref in ("W1", "W2"):
        visit(desk, somebody(desk, ref), right=FLUID)
    (mother,) = rows(store, tables.AdultFor, person_id=2)
    add_contact_point(desk, "W2", ContactPoint("phone", "07700 900005", adult_id=mother["id"]))
    with store.write() as session:
        c = tables.ContactPoint.__table__
        second = (c.c.person_id == 2) & (c.c.value == "+441632960321")
        session.execute(update(c).where(second).values(adult_id=None))
    again = {"until": desk.today + timedelta(days=1)}
    for ref in ("W1", "W2"):
        attempt = Attempt("phone", "call_again_on", **again)  # type: ignore[arg-type]
        contacting.log_contact(desk, number(desk, ref), None, attempt)
    then = later(desk, 1)
    (card,) = call_cards_of(then, "W2")
    assert [one.value for one in card.numbers] == ["+447700900005", "+441632960321"]

    assert [[one.follow_up for one in line] for line in call_lines(then)] == [
        [number(desk, "W1"), number(desk, "W2")]
    ]


def test_who_is_promised_an_hour_has_a_line_of_their_own_until_then(ten: Desk) -> None:
    until = {"until": ten.today, "until_at": time(15)}
    promised = Attempt("phone", "call_again_on", **until)  # type: ignore[arg-type]
    contacting.log_contact(ten, number(ten, "W3"), None, promised)

    others = [ref for ref in HOME if ref != "W3"]
    assert lines(ten) == [others, ["W11"], ["W3"]]


def test_people_without_a_number_or_with_one_only_a_person_reads_are_no_group(ten: Desk) -> None:
    contacting.log_contact(ten, number(ten, "W1"), None, Attempt("phone", "wrong_number"))
    for ref in ("W1", "W2"):
        add_contact_point(ten, ref, ContactPoint("phone", "ask at the farm shop"))

    grouped = [line for line in lines(ten) if len(line) > 1]
    assert grouped == []


def test_a_day_that_has_gone_by_is_worked_out_once_for_the_cards_and_anew_where_one_writes(
    ten: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    counted: list[date] = []
    worked_out = status_on.statuses_then

    def counting(desk: Desk, session: Session) -> list[status_on.FollowUpStatus]:
        counted.append(desk.today)
        return worked_out(desk, session)

    monkeypatch.setattr(status_on, "statuses_then", counting)
    now = later(ten, 3)
    contacting.note(now, number(now, "W11"), "Rang to ask for the way here.")
    past = replace(now, clock=now.clock.acting_for(ten.today))
    cards = call_cards(past, order(past))
    assert cards and counted == [ten.today] * 2, "the order and the cards, once each"
    with ten.store.write() as session:
        for _ in range(2):
            status_on.then_once(past, session)
    assert len(counted) == 4
