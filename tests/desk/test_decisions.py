"""Decisions about follow-ups, and the death of a person."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import msgspec
import pytest
from sqlalchemy import insert

from recall.care.ear import Ear
from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.core.undo import undo
from recall.desk.people import deaths
from recall.desk.plans import decisions
from recall.desk.plans.decisions import Decided
from recall.errors import Conflict, InputError, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    DAY,
    FLUID,
    KERATIN,
    desk_at,
    history_is_whole,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)


@pytest.fixture
def adult(store: Store) -> dict:
    """An adult with fluid behind one drum."""
    desk = desk_at(store)
    person_id = somebody(desk, born=date(1970, 1, 1), adult=False)
    visit(desk, person_id, right=KERATIN, left=FLUID)
    return dict(open_follow_ups(store, person_id)[0])


def tried(store: Store, number: int) -> None:
    """Everything that must be tried before somebody may be called lost, when it may count."""
    desk = later(desk_at(store), 14)
    for channel in ("phone", "text"):
        contacting.log_contact(desk, number, None, Attempt(channel, "no_answer"))
    contacting.address_checked(desk, number, None, "asked the GP's office")


def test_only_somebody_who_may_decide_decides_and_says_why(store: Store, adult: dict) -> None:
    with pytest.raises(Refused, match=r"rob \(reception\) may not"):
        decisions.decide(desk_at(store), [adult["id"]], Decided("keep_trying", "x"))
    clara = desk_at(store, by="clara")
    with pytest.raises(InputError, match="needs its reason"):
        decisions.decide(clara, [adult["id"]], Decided("keep_trying", " "))
    with pytest.raises(InputError, match="is no decision"):
        decisions.decide(clara, [adult["id"]], Decided("forget", "x"))


def test_keep_trying_starts_a_new_round(store: Store, adult: dict) -> None:
    tried(store, adult["id"])
    clara = later(desk_at(store, by="clara"), 20)
    done = decisions.decide(clara, [adult["id"]], Decided("keep_trying", "new number expected"))[0]
    row = rows(store, tables.FollowUp, id=adult["id"])[0]
    assert (row["is_open"], row["round"]) == (True, 2)
    assert done.step is not None


def test_handing_back_waits_until_everything_was_tried_and_has_its_letter(
    store: Store, adult: dict
) -> None:
    clara = later(desk_at(store, by="clara"), 30)
    shown = decisions.preview(clara, [adult["id"]], "hand_back")[0]
    assert (shown.ref, shown.allowed, shown.letter) == ("W1", False, "hand_back_to_gp")
    assert "0 of 2 contacts" in shown.because
    with pytest.raises(Refused):
        decisions.decide(clara, [adult["id"]], Decided("hand_back", "cannot be reached"))

    tried(store, adult["id"])
    done = decisions.decide(clara, [adult["id"]], Decided("hand_back", "cannot be reached"))[0]
    assert "waits for the post" in done.words and "Closed: handed back" in done.words
    letter = rows(store, tables.Letter)[0]
    assert (letter["kind"], letter["batch_id"]) == ("hand_back_to_gp", None)
    assert letter["to_name"] == "Dr Quill"
    assert "phone, no answer" in letter["body"]
    assert rows(store, tables.FollowUp, id=adult["id"])[0]["close_reason"] == "handed_back"
    assert history_is_whole(store)


def test_a_letter_that_could_not_be_posted_stops_the_handing_back(store: Store) -> None:
    desk = desk_at(store)
    person_id = somebody(desk, born=date(1970, 1, 1), adult=False, gp="Millrace Surgery")
    visit(desk, person_id, left=FLUID)
    number = open_follow_ups(store, person_id)[0]["id"]
    tried(store, number)
    clara = later(desk_at(store, by="clara"), 30)
    with pytest.raises(Refused, match="The GP's address is not known"):
        decisions.decide(clara, [number], Decided("hand_back", "cannot be reached"))

    known = {"Millrace surgery": ("Millrace Surgery", "1 Millrace", "Wrenfield")}
    config = msgspec.structs.replace(clara.config, addresses=known)
    decisions.decide(
        replace(clara, config=config), [number], Decided("hand_back", "cannot be reached")
    )
    letter = rows(store, tables.Letter)[0]
    assert (letter["to_name"], letter["to_lines"]) == (
        "Millrace Surgery",
        ("1 Millrace", "Wrenfield"),
    )


def test_informed_decline_needs_them_to_have_declined(store: Store, adult: dict) -> None:
    clara = later(desk_at(store, by="clara"), 1)
    with pytest.raises(Refused):
        decisions.decide(clara, [adult["id"]], Decided("informed_decline", "said no"))
    contacting.log_contact(
        later(desk_at(store), 1), adult["id"], None, Attempt("phone", "cannot_afford")
    )
    with pytest.raises(Refused):
        decisions.decide(clara, [adult["id"]], Decided("informed_decline", "cannot pay"))
    contacting.log_contact(
        later(desk_at(store), 1), adult["id"], None, Attempt("phone", "declines")
    )
    decisions.decide(clara, [adult["id"]], Decided("informed_decline", "knows what to watch for"))
    assert rows(store, tables.FollowUp, id=adult["id"])[0]["close_reason"] == "informed_decline"


def test_every_due_of_the_follow_up_is_decided_and_stays_so(store: Store, adult: dict) -> None:
    clara = desk_at(store, by="clara")
    held = {d["id"] for d in rows(store, tables.Due, is_open=True)}
    decisions.decide(clara, [adult["id"]], Decided("transferred", "seen by the hospital now"))
    ended = rows(store, tables.DueEvent, what="closed")
    mine = {e["due_id"] for e in ended if e["reason"] == "transferred"}
    assert mine and mine <= held
    assert all(e["decision_id"] for e in ended if e["due_id"] in mine)


def test_a_child_is_never_closed_without_the_prompt(store: Store) -> None:
    desk = desk_at(store)
    person_id = somebody(desk)
    visit(desk, person_id, right=FLUID)
    number = open_follow_ups(store, person_id)[0]["id"]
    clara = desk_at(store, by="clara")
    shown = decisions.preview(clara, [number], "transferred")[0]
    assert "safeguarding policy" in shown.prompt
    with pytest.raises(Refused, match="whom others bring"):
        decisions.decide(clara, [number], Decided("transferred", "moved"))
    decisions.decide(clara, [number], Decided("transferred", "moved", considered=True))
    assert open_follow_ups(store, person_id) == [] or number not in {
        f["id"] for f in open_follow_ups(store, person_id)
    }


def test_all_or_none(store: Store, adult: dict) -> None:
    desk = desk_at(store)
    child = somebody(desk, "W2")
    visit(desk, child, right=FLUID)
    number = open_follow_ups(store, child)[0]["id"]
    clara = desk_at(store, by="clara")
    with pytest.raises(Refused):
        decisions.decide(clara, [adult["id"], number], Decided("transferred", "x"))
    assert rows(store, tables.FollowUp, id=adult["id"])[0]["is_open"]
    with pytest.raises(Conflict):
        decisions.decide(
            clara, [adult["id"]], Decided("transferred", "x"), versions={adult["id"]: 99}
        )


def test_moving_keeps_the_appointment_and_the_reason(store: Store, adult: dict) -> None:
    clara = desk_at(store, by="clara")
    day = datetime(2027, 3, 2, 10)
    bookings.book(clara, adult["id"], None, Booking(day, why_late="abroad"))
    window = decisions.Dates(date(2027, 3, 1), date(2027, 3, 15), date(2027, 4, 1))
    done = decisions.decide(
        clara, [adult["id"]], Decided("move", "abroad all winter", dates=window)
    )[0]
    assert done.step == "attend"
    person_id = adult["person_id"]
    moved = [f for f in open_follow_ups(store, person_id) if f["latest"] == date(2027, 4, 1)]
    assert [b["follow_up_id"] for b in rows(store, tables.Booking)] == [moved[0]["id"]]
    with pytest.raises(InputError, match="out of order"):
        decisions.Dates(date(2027, 3, 2), date(2027, 3, 1), date(2027, 4, 1))


def test_moving_one_follow_up_leaves_the_other_appointment_where_it_is(store: Store) -> None:
    desk = desk_at(store)
    person_id = somebody(desk, born=date(1970, 1, 1), adult=False)
    visit(desk, person_id, right=FLUID, left=Ear(canal_skin="inflamed", drum_seen="full"))
    first, second = open_follow_ups(store, person_id)
    clara = desk_at(store, by="clara")
    for n, row in enumerate((first, second)):
        at = datetime.combine(row["target"], time(10 + n))
        bookings.book(clara, row["id"], None, Booking(at))

    window = decisions.Dates(date(2027, 3, 1), date(2027, 3, 15), date(2027, 4, 1))
    decisions.decide(clara, [second["id"]], Decided("move", "abroad all winter", dates=window))

    booked = {b["starts_local"].hour: b["follow_up_id"] for b in rows(store, tables.Booking)}
    moved = [f for f in open_follow_ups(store, person_id) if f["latest"] == date(2027, 4, 1)]
    assert booked == {10: first["id"], 11: moved[0]["id"]}


def test_a_decision_taken_back_leaves_everything_open(store: Store, adult: dict) -> None:
    clara = desk_at(store, by="clara")
    bookings.book(clara, adult["id"], None, Booking(datetime(2026, 9, 3, 10)))
    decisions.decide(clara, [adult["id"]], Decided("transferred", "seen elsewhere"))
    undo(clara)
    assert rows(store, tables.FollowUp, id=adult["id"])[0]["is_open"]
    assert rows(store, tables.FollowUp, id=adult["id"])[0]["step"] == "attend"
    assert rows(store, tables.Decision) == [] == rows(store, tables.BookingEvent)
    assert history_is_whole(store)


# -- deaths -------------------------------------------------------------------------------


def waiting_letter(store: Store, adult: dict, **more: object) -> int:
    values = {
        "person_id": adult["person_id"],
        "follow_up_id": adult["id"],
        "step": "invitation",
        "kind": "invitation_adult",
        "language": "en",
        "format": "standard",
        "to_name": "x",
        "to_lines": ("x",),
        "body": "x",
        "on": DAY,
        "recorded_at": desk_at(store).now,
        "by_id": 1,
        **more,
    }
    with store.write() as session:
        row = insert(tables.Letter.__table__).values(**values).returning(tables.Letter.id)
        return session.execute(row).scalar_one()


def test_a_death_takes_effect_at_once_everywhere(store: Store, adult: dict) -> None:
    clara = desk_at(store, by="clara")
    bookings.book(clara, adult["id"], None, Booking(datetime(2026, 9, 3, 10)))
    waiting_letter(store, adult)
    printed = waiting_letter(store, adult, round=2, printed_at=clara.now)
    with pytest.raises(Refused, match="typed name is not that of W1"):
        deaths.record_death(clara, "W1", DAY, "Rowan Tackwell")
    done = deaths.record_death(clara, "W1", DAY, "rowan THACKWELL")

    assert f"pull from the pile: letter {printed}" in done.words
    assert open_follow_ups(store, adult["person_id"]) == []
    assert {r["end_reason"] for r in rows(store, tables.Referral)} == {"died"}
    assert {f["close_reason"] for f in rows(store, tables.FollowUp)} == {"died"}
    assert rows(store, tables.BookingEvent)[0]["what"] == "cancelled_by_practice"
    pulled = [letter["pulled_why"] for letter in rows(store, tables.Letter)]
    assert pulled == ["has died", None]
    with pytest.raises(Conflict):
        bookings.book(clara, adult["id"], None, Booking(datetime(2026, 9, 4, 10)))
    assert history_is_whole(store)


def test_reception_stops_everything_and_somebody_who_may_decide_closes(
    store: Store, adult: dict
) -> None:
    deaths.record_death(desk_at(store), "W1", DAY, "Rowan Thackwell")
    row = rows(store, tables.FollowUp, id=adult["id"])[0]
    assert (row["is_open"], row["step"]) == (True, "decision")
    with pytest.raises(Refused, match="has died"):
        bookings.book(desk_at(store), adult["id"], None, Booking(datetime(2026, 9, 4, 10)))
    clara = desk_at(store, by="clara")
    decisions.decide(clara, [adult["id"]], Decided("died", "told by the family"))
    assert rows(store, tables.FollowUp, id=adult["id"])[0]["close_reason"] == "died"


def test_nobody_is_closed_as_dead_without_a_recorded_death(store: Store, adult: dict) -> None:
    with pytest.raises(Refused, match="cannot be closed so yet"):
        decisions.decide(desk_at(store, by="clara"), [adult["id"]], Decided("died", "rumour"))


def test_a_death_in_error_can_be_put_right_later(store: Store, adult: dict) -> None:
    clara = desk_at(store, by="clara")
    deaths.record_death(clara, "W1", DAY, "Rowan Thackwell")
    then = later(clara, 9)
    deaths.death_in_error(then, "W1", "another person of that name")
    assert rows(store, tables.Person)[0]["deceased_on"] is None
    assert rows(store, tables.FollowUp, id=adult["id"])[0]["is_open"]
    assert all(r["is_open"] for r in rows(store, tables.Referral))
    assert history_is_whole(store)


def test_a_day_of_death_must_be_possible(store: Store, adult: dict) -> None:
    clara = desk_at(store, by="clara")
    with pytest.raises(InputError, match="is ahead"):
        deaths.record_death(clara, "W1", DAY + timedelta(days=1), "Rowan Thackwell")
    with pytest.raises(InputError, match="before the birth"):
        deaths.record_death(clara, "W1", date(1950, 1, 1), "Rowan Thackwell")
