"""What is known before one rings: answers to be told, notes, who has them in hand, all numbers."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import pytest
from sqlalchemy import insert, update

from recall.cli.calls.lists import queue_text
from recall.cli.people.card_text import card_text
from recall.clock import Clock
from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.contact_points import add_contact_point
from recall.desk.contacts.entries import Attempt, Booking, ContactPoint
from recall.desk.core.session import Desk
from recall.desk.people.editing import Adult, add_adult
from recall.desk.people.person_card import person
from recall.desk.post.call_scripts import script_for
from recall.desk.practice import matters
from recall.desk.worklists import matter_list
from recall.desk.worklists.call_card import call_cards_of
from recall.desk.worklists.queue_lines import QueueLine, queue_lines
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    FLUID,
    desk_at,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)
from tests.desk.test_per_person import WAX
from tui.calls.card import call_card
from tui.calls.line import call_line
from tui.calls.numbers import said as said_of
from tui.people.card import top


def one_to_ring(store: Store) -> Desk:
    """Return a desk on a day on which one child is to be rung."""
    desk = desk_at(store)
    visit(desk, somebody(desk), right=FLUID)
    (row,) = open_follow_ups(store, 1)
    contacting.log_contact(later(desk, 2), row["id"], None, Attempt("phone", "will_call_back"))
    return later(desk, 9)


def the_line(desk: Desk) -> QueueLine:
    (line,) = queue_lines(desk)
    return line


def lines(desk: Desk) -> list[str]:
    return [line.strip() for line in queue_text(1, the_line(desk), desk.today).splitlines()]


def test_an_answer_that_is_to_be_told_stands_on_the_card_until_it_was(store: Store) -> None:
    desk = one_to_ring(store)
    matters.write_down(desk, "W1", matters.Entry("message", "May she swim?"))
    clinician = desk_at(store, desk.today, by="clara")
    (asked,) = matter_list.matters(clinician, everybody=True)
    matters.close(clinician, asked.number, "tell_them", "Not before the drum has closed.")

    (card,) = call_cards_of(desk, "W1")
    drawn = " ".join(str(line).strip() for line in call_card(card, desk.today, 60))
    assert "! Tell" in drawn and "Not before the drum has closed." in drawn
    assert any(line.startswith("! Tell them: Not before") for line in lines(desk))

    (errand,) = matter_list.matters(desk, everybody=True)
    matters.close(desk, errand.number, "done")
    assert call_cards_of(desk, "W1")[0].to_tell == () == the_line(desk).to_tell


def test_what_a_home_said_of_one_of_its_people_stands_on_the_card_of_each(store: Store) -> None:
    """The first of its line is somebody else; who only has the same number says nothing of it."""
    desk = one_to_ring(store)
    for ref in ("W2", "W3"):
        visit(desk, somebody(desk, ref), right=FLUID)
    with store.write() as session:
        adult = tables.AdultFor.__table__
        session.execute(update(adult).where(adult.c.person_id == 3).values(name="The warden"))
    note = Attempt("phone", "will_call_back", note="Ring on Monday about all of them")
    (second,) = call_cards_of(desk, "W2")
    contacting.log_contact(desk, second.follow_up, None, note)

    notes = [call_cards_of(desk, ref)[0].notes for ref in ("W1", "W2", "W3")]
    said = "10 September 2026{}: Ring on Monday about all of them"
    assert notes == [(said.format(" about another there"),), (said.format(""),), ()]


def test_a_message_left_for_the_mother_of_one_is_told_on_the_card_of_the_other(
    store: Store,
) -> None:
    desk = one_to_ring(store)
    visit(desk, somebody(desk, "W2"), right=FLUID)
    (second,) = call_cards_of(desk, "W2")
    contacting.log_contact(desk, second.follow_up, None, Attempt("phone", "left_message"))

    notes = [call_cards_of(desk, ref)[0].notes for ref in ("W1", "W2")]
    assert notes == [("10 September 2026 about another there: left a message.",), ()]
    weeks = replace(desk, clock=Clock.at(desk.today + timedelta(days=15)))
    assert call_cards_of(weeks, "W1")[0].notes == ()


def test_the_plain_queue_has_notes_claims_and_each_number_with_whose_it_is(store: Store) -> None:
    desk = one_to_ring(store)
    add_contact_point(desk, "W1", ContactPoint("phone", "01632 960982 (gran)"))
    number = open_follow_ups(store, 1)[0]["id"]
    contacting.note(desk, number, "Works nights: ring after two.")
    contacting.claim(desk_at(store, desk.today, by="clara"), number)

    said = lines(desk)

    first = said.index("Ask for Ida Thackwell")
    assert said[first + 1].startswith("Ring: +441632960321 (Ida Thackwell")
    assert said[first + 2].startswith("or 01632 960982") and "gran" in said[first + 2]
    assert any("Works nights: ring after two." in line for line in said)
    assert any(line.startswith("In hand: clara until ") for line in said)


def test_who_came_is_not_to_be_rung_and_nothing_is_to_be_said(store: Store) -> None:
    desk = one_to_ring(store)
    number = open_follow_ups(store, 1)[0]["id"]
    bookings.book(desk, number, None, Booking(datetime.combine(desk.today, time(11))))
    (booked,) = rows(store, tables.Booking)
    assert queue_lines(desk) == ()
    bookings.record_attended(desk, booked["id"])
    assert queue_lines(desk) == ()

    said = lines(later(desk, 1))
    assert not [line for line in said if line.startswith(("Ring", "or ", "Ask for", "Say"))]
    assert any("not in the register yet" in line for line in said)


def test_who_was_seen_today_is_rung_about_the_rest_from_tomorrow_on(store: Store) -> None:
    desk = desk_at(store)
    person = somebody(desk)
    visit(desk, person, right=FLUID, left=WAX)
    fluid = max(open_follow_ups(store, person), key=lambda row: row["latest"])
    contacting.log_contact(later(desk, 2), fluid["id"], None, Attempt("phone", "will_call_back"))
    day = later(desk, 9)
    assert [line.reference for line in queue_lines(day)] == ["W1"]

    visit(day, person, left=WAX)

    assert [row["id"] for row in open_follow_ups(store, person)].count(fluid["id"]) == 1
    assert [line.step for line in queue_lines(day)] in ([], ["book_now"])
    assert "W1" in [line.reference for line in queue_lines(later(desk, 10))]

    before = queue_lines(day)
    _old_visits_land(day, somebody(day, "W2"), 2_100)
    assert queue_lines(day) == before


def _old_visits_land(desk: Desk, person_id: int, count: int) -> None:
    """Put in visits of years ago, as a file of old ones does after today's were typed."""
    made = {"recorded_at": desk.now, "by_id": desk.by.id, "recorded_no": 0, "source": "imported"}
    old = {"person_id": person_id, "on": date(2020, 1, 6), **made}
    with desk.store.write() as session:
        session.execute(insert(tables.Visit.__table__), [old] * count)


def test_the_words_ask_for_whoever_has_the_number_that_is_rung(store: Store) -> None:
    desk = one_to_ring(store)
    clinician = desk_at(store, desk.today, by="clara")
    add_adult(clinician, "W1", Adult("Wyn Abel", "responsible_adult"))
    other = rows(store, tables.AdultFor)[-1]["id"]
    add_contact_point(desk, "W1", ContactPoint("phone", "01632 960555", adult_id=other))
    (card,) = call_cards_of(desk, "W1")
    assert card.ask_for == "Ida Thackwell or Wyn Abel"

    asked = [
        script_for(desk, card.follow_up, number.contact_point_id).split('"')[1]
        for number in card.numbers
    ]

    assert asked == [
        f"Hello, this is (your name). May I speak to {name}, please?"
        for name in ("Ida Thackwell", "Wyn Abel")
    ]
    assert "Ida Thackwell" in script_for(desk, card.follow_up)


def test_words_to_say_name_no_day_that_has_gone_by(store: Store) -> None:
    desk = desk_at(store)
    visit(desk, somebody(desk), right=FLUID)
    (row,) = open_follow_ups(store, 1)
    latest: date = row["latest"]
    days = (latest - desk.today).days

    assert "if you can by" in script_for(later(desk, days - 1), row["id"])
    for late in (days, days + 11):
        said = script_for(later(desk, late), row["id"])
        assert "Offer a time, as soon as possible." in said and "if you can by" not in said


def test_where_there_is_little_room_the_note_is_shortened_and_never_what_is_to_be_said(
    store: Store,
) -> None:
    """At 80 by 24 the card has ten lines of fifty cells above the outcomes."""
    desk = one_to_ring(store)
    (card,) = call_cards_of(desk, "W1")
    long = "She rings back on Monday after the school run, or on Tuesday before nine in the morning"
    card = replace(card, notes=(long,), why=f"{card.why} {card.why} {card.why}")
    roomy, tight = ([str(line) for line in call_card(card, desk.today, 50, n)] for n in (30, 9))
    labels = [line.split()[0] for line in tight]
    assert len(tight) <= 9 < len(roomy)
    assert labels[-1] == "By"
    assert f"“{card.why}”" in " ".join(line.removeprefix("Say").strip() for line in tight)
    assert sum(line.startswith("Note") for line in tight) == 1
    assert not any(line.startswith("Step") for line in tight)
    assert any(line.startswith("Step") for line in roomy)


@pytest.mark.parametrize(
    ("outcome", "said"),
    [
        ("will_call_back", "Spoke with Ida Thackwell at 9:00 about Rowan Hale: will call back"),
        ("no_answer", "Rung at 9:00 about Rowan Hale: no answer"),
        ("left_message", None),
    ],
)
def test_who_was_spoken_with_about_one_child_is_told_beside_the_other_that_day(
    store: Store, outcome: str, said: str | None
) -> None:
    """One call to a number is about all the people under it (common practice, no source)."""
    desk = one_to_ring(store)
    visit(desk, somebody(desk, "W2", family_name="Hale"), right=FLUID)
    (second,) = call_cards_of(desk, "W2")
    assert call_cards_of(desk, "W1")[0].spoken is None
    rung = second.contact_point_id
    contacting.log_contact(
        desk, second.follow_up, None, Attempt("phone", outcome, contact_point_id=rung)
    )

    first, second = (call_cards_of(desk, ref)[0] for ref in ("W1", "W2"))
    assert (first.spoken.words if first.spoken else None) == said
    assert second.spoken is None
    drawn = " ".join(str(line).strip() for line in call_card(first, desk.today, 80))
    assert (said in drawn) if said else ("Today" not in drawn)
    assert the_line(desk).spoken == (said or "")
    told = " ".join(lines(desk))
    assert (said in told) if said else ("Today" not in told)
    in_list = "".join(text for text, _width, _kind in call_line(first, 27, desk.today, taken=False))
    assert ("spoke 9:00" in in_list) == (outcome == "will_call_back")
    assert call_cards_of(later(desk, 1), "W1")[0].spoken is None


def test_who_was_spoken_with_on_another_number_of_her_own_is_told_too(store: Store) -> None:
    """The same adult answers for both; somebody else of another number was not spoken with."""
    desk = one_to_ring(store)
    for ref in ("W2", "W3"):
        visit(desk, somebody(desk, ref), right=FLUID)
    with store.write() as session:
        adult = tables.AdultFor.__table__
        session.execute(update(adult).where(adult.c.person_id == 3).values(name="The father"))
    (second,) = call_cards_of(desk, "W2")
    (mother,) = rows(store, tables.AdultFor, person_id=2)
    other = ContactPoint("phone", "07700 900005", adult_id=mother["id"])
    rung = add_contact_point(desk, "W2", other)
    assert rung.made is not None
    attempt = Attempt("phone", "wants_letter", contact_point_id=rung.made)
    contacting.log_contact(desk, second.follow_up, None, attempt)

    first, third = (call_cards_of(desk, ref)[0] for ref in ("W1", "W3"))
    assert first.spoken is not None and first.spoken.reached and third.spoken is None


@pytest.mark.parametrize("how", ["booked", "they rang"])
def test_who_books_or_rings_about_one_child_is_told_beside_the_other(
    store: Store, how: str
) -> None:
    """Whom it was with is not typed then: it is whoever answers for both, by number or not.

    The first is rung on the mother's own number, the home's is noted as nobody's in particular.
    """
    desk = one_to_ring(store)
    visit(desk, somebody(desk, "W2"), right=FLUID)
    (second,) = call_cards_of(desk, "W2")
    with store.write() as session:
        ways = tables.ContactPoint.__table__
        of_first = (ways.c.person_id == 1) & (ways.c.kind == "phone")
        session.execute(update(ways).where(of_first).values(adult_id=None))
    (mother,) = rows(store, tables.AdultFor, person_id=1)
    add_contact_point(desk, "W1", ContactPoint("phone", "07700 900005", adult_id=mother["id"]))
    if how == "booked":
        when = Booking(datetime(2026, 9, 15, 10), 20, channel="phone", why_late="asked for it")
        bookings.book(desk, second.follow_up, None, when)
    else:
        theirs = Attempt("phone", "will_call_back", by_them=True)
        contacting.log_contact(desk, second.follow_up, None, theirs)

    (first,) = call_cards_of(desk, "W1")
    assert first.numbers[0].owner == "Ida Thackwell" and first.numbers[1].owner == ""
    assert first.numbers[1].others == ("Rowan Thackwell",)
    assert said_of(first.numbers[1], first.ask_for) == "+441632960321; also Rowan Thackwell"
    came = "booked" if how == "booked" else "will call back"
    said = f"Spoke with Ida Thackwell at 9:00 about Rowan Thackwell: {came}"
    assert first.spoken is not None and first.spoken.words == said
    card = person(desk, "W1")
    assert card.spoken == said and person(desk, "W2").spoken == ""
    assert f"Today: {said}." in card_text(card).splitlines()
    drawn = " ".join(str(line).strip() for line in top(card, desk.today, 200))
    assert f"Today: {said}" in drawn
    assert person(later(desk, 1), "W1").spoken == ""
