"""Acts are per person: one call, one appointment and one claim count for all that is in reach."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from recall.care.ear import Ear
from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking, MoveTo
from recall.desk.core import undo as undoing
from recall.desk.plans import decisions
from recall.desk.plans.decisions import Decided
from recall.desk.worklists import appointments, call_card, queue_lines
from recall.errors import Conflict, NotFound, Refused
from recall.loop.facts import Contact
from recall.records import tables
from recall.records.database.store import Store
from recall.records.facts.events import facts_for
from tests.desk.practice import (
    DAY,
    FLUID,
    KERATIN,
    desk_at,
    evening,
    history_is_whole,
    later,
    open_follow_ups,
    rows,
    somebody,
    stands_at,
    visit,
)

WAX = Ear(wax_found="occluding", wax_left="occluding", clearance="failed", drum_seen="none")


@pytest.fixture
def two(store: Store) -> list[dict[str, Any]]:
    """Fluid to be looked at in four weeks, and wax to be tried again in a few days."""
    desk = desk_at(store)
    visit(desk, somebody(desk), right=FLUID, left=WAX)
    fluid, wax = sorted(open_follow_ups(store, 1), key=lambda f: f["latest"], reverse=True)
    return [dict(wax), dict(fluid)]


def steps(store: Store, on: date, who: list[dict[str, Any]]) -> list[str]:
    desk = desk_at(store, on)
    return [stands_at(desk, one) for one in who]


def contacts_of(store: Store, number: int) -> list[str]:
    with store.read() as session:
        told = facts_for(session, [number])[number].events
    return [event.outcome for event in told if isinstance(event, Contact)]


def test_who_is_in_hospital_is_not_rung_about_the_other_ear(store: Store, two: list) -> None:
    wax, fluid = two
    desk = later(desk_at(store), 2)
    until = desk.today + timedelta(days=30)
    said = Attempt("phone", "in_hospital", until=until)
    contacting.log_contact(desk, wax["id"], None, said)
    for one in open_follow_ups(store, 1):
        assert (one["step"], one["next_step_on"]) == ("phone", until)
    assert contacts_of(store, fluid["id"]) == ["in_hospital"]
    assert history_is_whole(store)


def test_who_reports_worse_is_with_a_clinician_for_everything(store: Store, two: list) -> None:
    desk = later(desk_at(store), 1)
    contacting.log_contact(desk, two[1]["id"], None, Attempt("phone", "worse"))
    assert steps(store, desk.today, two) == ["clinician_call", "clinician_call"]


def test_what_is_declined_is_asked_and_the_rest_stays_open(store: Store, two: list) -> None:
    wax, fluid = two
    desk = later(desk_at(store), 2)
    before = steps(store, desk.today, [fluid])
    done = contacting.log_contact(desk, wax["id"], None, Attempt("phone", "declines"))
    assert "Stays open: right fluid." in done.words
    assert steps(store, desk.today, two) == ["decision", *before]
    both = Attempt("phone", "declines", which=(wax["id"], fluid["id"]))
    assert "Stays open" not in contacting.log_contact(desk, wax["id"], None, both).words
    assert steps(store, desk.today, two) == ["decision", "decision"]


def test_what_another_person_has_cannot_be_declined(store: Store, two: list) -> None:
    desk = desk_at(store)
    visit(desk, somebody(desk, "W2"), right=FLUID)
    other = open_follow_ups(store, 2)[0]
    with pytest.raises(NotFound):
        said = Attempt("phone", "declines", which=(other["id"],))
        contacting.log_contact(desk, two[0]["id"], None, said)


def test_what_is_far_off_is_not_brought_forward_and_only_waits(store: Store) -> None:
    desk = desk_at(store)
    visit(desk, somebody(desk), right=FLUID, left=KERATIN)
    mine = {f["tracks"]: dict(f) for f in open_follow_ups(store, 1)}
    far, near = mine[("retraction",)], mine[("fluid",)]
    contacting.log_contact(later(desk, 3), near["id"], None, Attempt("phone", "no_answer"))
    assert contacts_of(store, far["id"]) == []
    away = Attempt("phone", "away", until=date(2027, 1, 20))
    contacting.log_contact(later(desk, 4), near["id"], None, away)
    assert contacts_of(store, far["id"]) == []
    first = rows(store, tables.FollowUp, id=far["id"])[0]
    assert far["next_step_on"] < date(2027, 1, 20) == first["next_step_on"]


def test_one_appointment_meets_both_and_says_what_it_cannot_meet(store: Store, two: list) -> None:
    wax = two[0]
    desk = later(desk_at(store), 4)
    soon = Booking(datetime(2026, 9, 9, 10), channel="phone")
    done = bookings.book(desk, wax["id"], None, soon)
    assert "Does not meet right fluid, 29 September 2026 to 27 October 2026" in done.words
    assert done.left == two[1]["id"]
    assert steps(store, desk.today, two)[0] == "attend"
    assert steps(store, desk.today, two)[1] != "attend"
    undoing.undo(desk)
    meets = Booking(datetime(2026, 9, 30, 10), why_late="away until then")
    done = bookings.book(later(desk, 14), wax["id"], None, meets)
    assert "Meets right fluid as well." in done.words and done.left is None
    assert steps(store, desk.today + timedelta(days=14), two) == ["attend", "attend"]


def test_the_days_list_tells_what_an_appointment_met_however_it_ended(
    store: Store, two: list
) -> None:
    desk = later(desk_at(store), 14)
    meets = Booking(datetime(2026, 9, 30, 10), why_late="away until then")
    made = bookings.book(desk, two[0]["id"], None, meets).made
    assert made is not None
    day = later(desk_at(store), 29)
    (before,) = appointments.day(day)
    assert len(before.meets) > 1 and before.meets_not == ()
    bookings.record_missed(evening(day), made)
    (after,) = appointments.day(day)
    assert after.ended == "was_not_brought"
    assert (after.meets, after.meets_not) == (before.meets, ())


def test_an_appointment_for_both_is_missed_moved_and_called_off_for_both(
    store: Store, two: list
) -> None:
    desk = later(desk_at(store), 28)
    made = bookings.book(
        desk, two[0]["id"], None, Booking(datetime(2026, 9, 30, 10), why_late="x")
    ).made
    assert made is not None
    after = later(desk, 1)
    bookings.record_missed(evening(after), made)
    assert steps(store, after.today, two) == ["phone", "phone"]
    undoing.undo(evening(after))
    to = MoveTo(datetime(2026, 10, 1, 9), why_late="x")
    moved = bookings.move(after, made, to, "person")
    assert moved.made is not None
    assert steps(store, after.today, two) == ["attend", "attend"]
    bookings.cancel(after, moved.made, "practice")
    assert steps(store, after.today, two) == ["phone", "phone"]
    assert history_is_whole(store)


def test_what_is_taken_back_is_taken_back_for_all(store: Store, two: list) -> None:
    desk = later(desk_at(store), 2)
    before = steps(store, desk.today, two)
    contacting.log_contact(desk, two[0]["id"], None, Attempt("phone", "worse"))
    undoing.undo(desk)
    assert steps(store, desk.today, two) == before
    assert rows(store, tables.AlsoAbout) == []


def test_an_appointment_stays_for_what_is_open_when_what_it_was_made_for_ends(
    store: Store, two: list
) -> None:
    wax, fluid = two
    desk = later(desk_at(store), 28)
    made = bookings.book(
        desk, wax["id"], None, Booking(datetime(2026, 9, 30, 10), why_late="x")
    ).made
    clara = replace(desk, by=desk_at(store, desk.today, "clara").by)
    (done,) = decisions.decide(
        clara, [wax["id"]], Decided("clinician_decision", "seen to elsewhere", considered=True)
    )
    assert "The appointment stays, for right fluid." in done.words
    assert steps(store, desk.today, [fluid]) == ["attend"]
    assert made is not None
    bookings.move(desk, made, MoveTo(datetime(2026, 10, 6, 9)), "person")
    assert steps(store, desk.today, [fluid]) == ["attend"]


def test_the_address_is_checked_once_for_all(store: Store, two: list) -> None:
    desk = later(desk_at(store), 2)
    contacting.log_contact(desk, two[0]["id"], None, Attempt("phone", "wrong_number"))
    later_on = later(desk, 1)
    assert steps(store, later_on.today, two) == ["address_check", "address_check"]
    contacting.address_checked(later_on, two[1]["id"], None, "rang the GP", still_there=True)
    assert "address_check" not in steps(store, later_on.today, two)


def test_a_hold_waits_for_the_most_pressing_latest_day(store: Store, two: list) -> None:
    wax, fluid = two
    desk = later(desk_at(store), 2)
    assert wax["latest"] + timedelta(days=7) < fluid["latest"]
    with pytest.raises(Refused, match=f"Follow-up {wax['id']}"):
        contacting.hold(desk, fluid["id"], None, "abroad", fluid["latest"])
    contacting.hold(desk, fluid["id"], None, "abroad", wax["latest"])
    for one in open_follow_ups(store, 1):
        assert one["next_step_on"] >= wax["latest"]


def test_a_claim_is_on_the_person(store: Store, two: list) -> None:
    wax, fluid = two
    rob, clara = desk_at(store), desk_at(store, by="clara")
    contacting.claim(rob, wax["id"])
    with pytest.raises(Conflict):
        contacting.claim(clara, fluid["id"])
    with pytest.raises(Conflict, match="rob has follow-up"):
        contacting.log_contact(clara, fluid["id"], None, Attempt("phone", "no_answer"))
    contacting.release(rob, fluid["id"])
    contacting.claim(clara, fluid["id"])
    assert {f["claim_by_id"] for f in open_follow_ups(store, 1)} == {clara.by.id}


def test_a_text_is_no_letter_whatever_step_is_next(store: Store, follow_up: dict) -> None:
    desk = desk_at(store, DAY + timedelta(days=14))
    assert stands_at(desk, follow_up) == "invitation"
    contacting.log_contact(desk, follow_up["id"], None, Attempt("text", "message_sent"))
    assert stands_at(later(desk, 6), follow_up) == "invitation"


def test_a_letter_that_was_written_by_hand_does_the_letter_step_of_all_in_reach(
    store: Store, two: list
) -> None:
    wax, fluid = two
    desk = later(desk_at(store), 16)
    contacting.log_contact(desk, wax["id"], None, Attempt("letter", "message_sent"))

    (beside,) = rows(store, tables.AlsoAbout)
    assert (beside["follow_up_id"], beside["step"]) == (fluid["id"], "invitation")
    assert stands_at(later(desk, 1), fluid) == "phone"


def test_the_card_and_the_queue_say_the_earliest_day_of_all_that_the_call_is_about(
    store: Store, two: list[dict[str, Any]]
) -> None:
    wax, fluid = two
    desk = desk_at(store, wax["latest"] + timedelta(days=3))
    cards = {card.follow_up: card for card in call_card.call_cards_of(desk, "W1")}
    assert wax["latest"] < fluid["latest"]
    assert {card.call_by for card in cards.values()} == {wax["latest"]}
    assert cards[fluid["id"]].latest == fluid["latest"]  # what is booked is its own
    [line] = queue_lines.queue_lines(desk, letters=True)
    assert (line.latest, line.late_by_days) == (wax["latest"], 3)
