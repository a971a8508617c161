"""What lists, cards and forms show of a person, an appointment or a number, to the word."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any

import msgspec
import pytest
from sqlalchemy import insert, update

from recall.desk.contacts import bookings, contact_points, contacting
from recall.desk.contacts.address_doubt import doubted
from recall.desk.contacts.entries import Attempt, Booking, ContactPoint
from recall.desk.core.acting import say_next
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.session import Desk
from recall.desk.people import person_card
from recall.desk.people.duplicates import possible_duplicates
from recall.desk.worklists import appointments
from recall.desk.worklists.call_card import call_cards_of
from recall.desk.worklists.lists import overdue
from recall.desk.worklists.queue_lines import queue_lines
from recall.errors import NotFound
from recall.loop.steps import Step
from recall.records import tables
from recall.records.database.store import Store
from recall.records.journal.history import Change, append_all
from recall.schedule.calendar import say_day
from tests.desk.practice import DAY, FLUID, desk_at, later, rows, somebody, visit


def at(day: date) -> datetime:
    while day.weekday() > 4:
        day += timedelta(days=1)
    return datetime.combine(day, time(10))


def header(desk: Desk, person: int) -> PersonHeader:
    with desk.store.read() as session:
        return person_headers(session, [person], desk.today, desk.protocol.contact)[person]


def contact_point(desk: Desk, person: int, **values: Any) -> None:
    """A way to reach somebody as a file may bring it."""
    made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id}
    usual = {"person_id": person, "kind": "phone", "raw": "x", "safe": "yes", "rank": 1}
    with desk.store.write() as session:
        session.execute(insert(tables.ContactPoint.__table__).values(**{**usual, **values, **made}))


def end_all(desk: Desk) -> None:
    with desk.store.write() as session:
        session.execute(update(tables.ContactPoint.__table__).values(until=desk.today))


@pytest.mark.parametrize(
    ("day", "said"),
    [
        (date(2026, 9, 2), "Next, Wednesday 2 September 2026: a named clinician decides: away."),
        (date(2026, 9, 1), "Next, Tuesday 1 September 2026: a named clinician decides: away."),
        (date(2026, 8, 31), "Next, now: a named clinician decides: away."),
    ],
)
def test_the_day_of_what_is_next_is_said_with_its_weekday(day: date, said: str) -> None:
    assert say_next(Step(kind="decision", on=day, why="Away."), DAY) == said


@pytest.mark.parametrize(
    ("outcome", "after", "day"),
    [("somebody_else_answered", 24, date(2026, 9, 28)), ("in_hospital", 0, date(2026, 9, 30))],
)
def test_what_comes_on_a_closed_day_is_said_for_the_next_opening_day(
    store: Store, follow_up: dict, outcome: str, after: int, day: date
) -> None:
    """Two days after a Friday; four weeks after the first the practice is closed for a day."""
    desk = later(desk_at(store), after)
    closed = {date(2026, 9, 29): "stocktaking"}
    desk = replace(desk, calendar=msgspec.structs.replace(desk.calendar, closures=closed))
    done = contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", outcome))
    assert done.on == day and say_day(day, weekday=True) in done.words
    (card,) = person_card.person(desk, "W1").follow_ups
    assert card.on == day


def test_an_appointment_shows_with_whom_it_is(store: Store, follow_up: dict) -> None:
    desk = desk_at(store)
    second = somebody(desk, "W2")
    visit(desk, second, right=FLUID)
    other = rows(store, tables.FollowUp, person_id=second)[0]
    starts = at(follow_up["target"])
    bookings.book(desk, follow_up["id"], None, Booking(starts, with_="Clara"))
    bookings.book(desk, other["id"], None, Booking(starts + timedelta(hours=1)))

    shown = appointments.day(desk, starts.date())

    assert [(row.ref, row.with_, row.ended) for row in shown] == [
        ("W1", "clara", ""),
        ("W2", "", ""),
    ]
    assert all(row.name == "Rowan Thackwell" and row.version for row in shown)
    assert appointments.day(desk, starts.date() + timedelta(days=1)) == ()


def test_a_number_is_checked_only_where_that_is_said(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)
    (phone,) = rows(store, tables.ContactPoint, kind="phone")
    then = later(desk, 3)

    contact_points.edit_contact_point(then, phone["id"], label="work")
    assert rows(store, tables.ContactPoint, kind="phone")[0]["checked_on"] == phone["checked_on"]
    contact_points.edit_contact_point(then, phone["id"], checked=True)

    (after,) = rows(store, tables.ContactPoint, kind="phone")
    assert (after["label"], after["checked_on"]) == ("work", then.today)


def test_an_address_is_kept_with_its_postcode_and_what_is_wrong_with_it(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)
    for raw, code in (
        ("1 Elm Way\n\n Wrenfield ", "wr99zx"),
        ("2 Elm Way", ""),
        ("3 Elm Way", "X"),
    ):
        contact_points.add_contact_point(desk, "W1", ContactPoint("address", raw, code))

    _old, right, none, wrong = rows(store, tables.ContactPoint, kind="address")
    assert (right["value"], right["postcode"]) == ("1 Elm Way\nWrenfield\nWR9 9ZX", "WR9 9ZX")
    assert (none["value"], none["postcode"], none["problem"]) == ("2 Elm Way", None, None)
    assert (wrong["value"], wrong["postcode"]) == ("3 Elm Way\nX", None)
    assert wrong["problem"].startswith("the postcode ")
    assert {right["checked_on"], none["checked_on"]} == {desk.today}


def test_a_doubt_counts_from_the_last_thing_that_raised_it(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 3)
    posted = {
        "person_id": follow_up["person_id"], "follow_up_id": follow_up["id"],
        "step": "invitation", "kind": "invitation_child", "language": "en", "format": "standard",
        "to_name": "x", "to_lines": ("x",), "body": "x", "recorded_at": desk.now, "by_id": 1,
        "on": DAY, "printed_at": desk.now, "posted_on": DAY, "returned_on": DAY,
    }  # fmt: skip
    with store.write() as session:
        session.execute(insert(tables.Letter.__table__).values(**posted))
        returned = Change("returned", "letter", 1, None, None, follow_up["person_id"])
        append_all(session, 1, desk.now, [returned])
        back = doubted(session, follow_up["id"], desk.today)
    contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "wrong_number"))
    with store.read() as session:
        both = doubted(session, follow_up["id"], desk.today)

    assert back.came_back and both.came_back
    assert back.since is not None and both.since is not None and back.since < both.since


def test_the_only_safe_number_is_rung_before_any_other(store: Store) -> None:
    desk = desk_at(store)
    person = somebody(desk, born=date(1970, 1, 1), adult=False)
    contact_point(desk, person, value="+441632960777", raw="01632 960777", safe="only_this", rank=3)
    contact_point(desk, person, value="+441632960888", raw="01632 960888", safe="no", rank=0)

    assert header(desk, person).number == "01632 960777"


def test_a_child_is_asked_for_on_any_number_that_is_safe_where_no_parent_has_one(
    store: Store,
) -> None:
    desk = desk_at(store)
    person = somebody(desk)
    end_all(desk)
    made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id, "person_id": person}
    with store.write() as session:
        carer = tables.AdultFor(name="Wyn Abel", role="carer", **made)
        session.add(carer)
        session.flush()
        carer_id = carer.id
    assert header(desk, person).number == ""
    contact_point(desk, person, value="+441632960777", raw="01632 960777", adult_id=carer_id)

    found = header(desk, person)
    assert (found.ask_for, found.number) == ("Ida Thackwell", "01632 960777")


def test_without_a_number_the_list_says_whether_one_was_wrong(store: Store) -> None:
    desk = desk_at(store)
    person = somebody(desk, born=date(1970, 1, 1), adult=False)
    end_all(desk)
    contact_point(desk, person, kind="email", raw="x@", value=None, problem="is no address")
    assert header(desk, person).warnings[0] == "No number on record."
    contact_point(desk, person, raw="12", value=None, problem="is too short")
    assert header(desk, person).warnings[0].startswith("The number on record could not be checked")
    assert header(desk, person).number == "12"


def test_what_to_know_before_contact_is_said_in_words(store: Store) -> None:
    desk = desk_at(store)
    person = somebody(desk, needs=("a hearing loop", "time"), caller_note="speak slowly.")
    assert header(desk, person).warnings == (
        "Needs: a hearing loop, time.",
        "Before contact: speak slowly.",
    )
    alone = somebody(desk, "W2", adult=False)
    assert header(desk, alone).warnings == ("Child without a responsible adult on record.",)


def test_the_card_of_a_caller_has_everything_that_is_open(store: Store, follow_up: dict) -> None:
    desk = desk_at(store)
    (card,) = call_cards_of(desk, "w1")
    assert (card.reference, card.follow_up) == ("W1", follow_up["id"])
    with pytest.raises(NotFound):
        call_cards_of(desk, "W404")


def test_of_an_empty_register_every_list_is_empty(store: Store) -> None:
    desk = desk_at(store)
    assert queue_lines(desk) == overdue(desk) == ()


def test_that_the_gp_was_told_is_on_the_persons_card(store: Store, follow_up: dict) -> None:
    contacting.gp_told(desk_at(store), follow_up["id"], None, "by letter")
    (tried,) = person_card.person(desk_at(store), "W1").tried
    assert tried.words == "GP or referrer told: by letter"


def test_only_those_who_were_asked_about_are_told_as_possible_duplicates(store: Store) -> None:
    desk = desk_at(store)
    first, _same = somebody(desk, "W1"), somebody(desk, "W2")
    for ref in ("W3", "W4"):
        somebody(desk, ref, given_names="Jude")
    with store.read() as session:
        (twins,) = possible_duplicates(session, [first])
        nobody = possible_duplicates(session, [])

    assert (twins.refs, twins.born, twins.postcode) == (("W1", "W2"), date(2020, 3, 2), "WR99ZX")
    assert nobody == ()
