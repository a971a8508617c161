"""What a decision is shown as before it is taken, and what is kept of it."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.plans import decisions
from recall.desk.plans.decisions import Decided
from recall.errors import Conflict, InputError, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, desk_at, open_follow_ups, rows, somebody, visit

WINDOW = decisions.Dates(date(2027, 3, 1), date(2027, 3, 15), date(2027, 4, 1))


@pytest.fixture
def adult(store: Store) -> dict:
    """An adult who comes alone, with fluid behind both drums: one follow-up, two dues."""
    desk = desk_at(store)
    person_id = somebody(desk, given_names="", born=date(1970, 1, 1), adult=False)
    visit(desk, person_id, right=FLUID, left=FLUID)
    return dict(open_follow_ups(store, person_id)[0])


def test_a_decision_is_shown_with_all_that_it_is_about(store: Store, adult: dict) -> None:
    shown = decisions.preview(desk_at(store), [adult["id"]], "transferred")
    assert shown == (
        decisions.Meant(
            follow_up_id=adult["id"],
            version=adult["version"],
            ref="W1",
            name="Thackwell",
            born=date(1970, 1, 1),
            latest=adult["latest"],
            urgency=adult["urgency"],
            what=("right fluid", "left fluid"),
            decision="Now cared for elsewhere, confirmed",
            closes_as="transferred",
            letter="",
            allowed=True,
            because="",
            prompt="",
        ),
    )


@pytest.mark.parametrize(
    ("decision", "words"), [("carry_on", "Carry on as it stands"), ("move", "Move to other dates")]
)
def test_carrying_on_and_moving_close_nothing_and_are_always_allowed(
    store: Store, adult: dict, decision: str, words: str
) -> None:
    shown = decisions.preview(desk_at(store), [adult["id"]], decision)[0]
    assert (shown.decision, shown.closes_as, shown.letter) == (words, "", "")
    assert (shown.allowed, shown.because, shown.prompt) == (True, "", "")


@pytest.mark.parametrize("decision", ["carry_on", "keep_trying"])
def test_going_on_is_kept_with_its_reason_once(store: Store, adult: dict, decision: str) -> None:
    twice = [adult["id"], adult["id"]]
    done = decisions.decide(desk_at(store, by="clara"), twice, Decided(decision, " new number "))
    noted = [(e["follow_up_id"], e["what"], e["why"]) for e in rows(store, tables.FollowUpEvent)]
    assert noted == [(adult["id"], decision, "new number")]
    assert len(done) == 1
    assert rows(store, tables.Decision) == []


def test_every_due_is_closed_by_a_decision_of_its_own(store: Store, adult: dict) -> None:
    decisions.decide(
        desk_at(store, by="clara"), [adult["id"]], Decided("transferred", " seen there ")
    )
    kept = [
        (d["ear"], d["track"], d["kind"], d["asked_on"], d["action"], d["reason"], d["why"])
        for d in rows(store, tables.Decision)
    ]
    asked = ("fluid", "recheck", date(2026, 9, 1), "close", "transferred", "seen there")
    assert kept == [("right", *asked), ("left", *asked)]


def test_a_move_is_kept_with_its_window_and_needs_one(store: Store, adult: dict) -> None:
    clara = desk_at(store, by="clara")
    with pytest.raises(InputError, match="A move needs its three days"):
        decisions.decide(clara, [adult["id"]], Decided("move", "abroad"))
    with pytest.raises(InputError, match="A move needs its three days"):
        decisions.decide(clara, [adult["id"]], Decided("transferred", "abroad", dates=WINDOW))
    done = decisions.decide(clara, [adult["id"]], Decided("move", "abroad", dates=WINDOW))[0]
    kept = [
        (d["ear"], d["action"], d["reason"], d["earliest"], d["target"], d["latest"], d["why"])
        for d in rows(store, tables.Decision)
    ]
    days = date(2027, 3, 1), date(2027, 3, 15), date(2027, 4, 1)
    assert kept == [
        (ear, "move", "clinician_decision", *days, "abroad") for ear in ("right", "left")
    ]
    assert done.words.startswith("Move to other dates. Latest ")
    assert "1 April 2027" in done.words


def test_a_window_may_be_one_day_and_is_never_out_of_order() -> None:
    day, next_day = date(2027, 3, 1), date(2027, 3, 2)
    assert decisions.Dates(day, day, day).latest == day
    for days in ((next_day, day, next_day), (day, next_day, day)):
        with pytest.raises(InputError, match="out of order"):
            decisions.Dates(*days)


def test_the_manager_decides_what_is_not_clinical_only(store: Store, adult: dict) -> None:
    mina = desk_at(store, by="mina")
    for decision, dates in (("carry_on", None), ("clinician_decision", None), ("move", WINDOW)):
        with pytest.raises(Refused, match=r"mina \(manager\) may not"):
            decisions.decide(mina, [adult["id"]], Decided(decision, "x", dates=dates))
    decisions.decide(mina, [adult["id"]], Decided("transferred", "letter from the hospital"))
    assert not rows(store, tables.FollowUp, id=adult["id"])[0]["is_open"]


def test_what_changed_since_it_was_looked_at_is_not_decided(store: Store, adult: dict) -> None:
    clara, looked_at = desk_at(store, by="clara"), {adult["id"]: adult["version"]}
    contacting.log_contact(desk_at(store), adult["id"], None, Attempt("phone", "no_answer"))
    with pytest.raises(Conflict):
        decisions.decide(clara, [adult["id"]], Decided("transferred", "x"), versions=looked_at)
    assert rows(store, tables.Decision) == []


def test_what_ends_has_its_own_appointment_called_off_and_nobody_elses(
    store: Store, adult: dict
) -> None:
    clara = desk_at(store, by="clara")
    child = somebody(clara, "W2")
    visit(clara, child, right=FLUID)
    other = open_follow_ups(store, child)[0]
    mine = bookings.book(
        clara, adult["id"], None, Booking(datetime(2026, 10, 6, 10), why_late="x")
    ).made
    bookings.book(clara, other["id"], None, Booking(datetime(2026, 10, 6, 11), why_late="x"))

    done = decisions.decide(clara, [adult["id"]], Decided("transferred", "seen there"))[0]

    ended = [(e["booking_id"], e["what"], e["why"]) for e in rows(store, tables.BookingEvent)]
    assert ended == [(mine, "cancelled_by_practice", "Now cared for elsewhere, confirmed")]
    assert "The appointment on 6 October 2026 is called off." in done.words
