"""What is kept of a contact, how long anybody may hold one back, and who may do what."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import update

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.errors import Conflict, InputError, NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import desk_at, later, rows, somebody
from tests.desk.test_bookings import at

TUESDAY = date(2026, 9, 1)


def test_everything_said_of_a_contact_is_kept(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    mother = rows(store, tables.AdultFor)[0]
    phone = rows(store, tables.ContactPoint, kind="phone")[0]
    until = desk.today + timedelta(days=1)
    done = contacting.log_contact(
        desk,
        follow_up["id"],
        follow_up["version"],
        Attempt(
            "phone",
            "call_again_on",
            " at work \n",
            until=until,
            spoke_with=" Ida ",
            adult_id=mother["id"],
            contact_point_id=phone["id"],
        ),
    )
    kept = rows(store, tables.Contact)[0]
    assert done.made == kept["id"]
    told = {
        "person_id": follow_up["person_id"],
        "follow_up_id": follow_up["id"],
        "round": 1,
        "step": follow_up["step"],
        "step_no": follow_up["step_no"],
        "channel": "phone",
        "outcome": "call_again_on",
        "until": until,
        "by_them": False,
        "note": "at work",
        "spoke_with": "Ida",
        "adult_id": mother["id"],
        "contact_point_id": phone["id"],
        "on": date(2026, 9, 2),
    }
    assert {name: kept[name] for name in told} == told
    assert rows(store, tables.ContactPoint, kind="phone")[0]["until"] is None


def test_the_day_agreed_for_another_call_is_ahead(store: Store, follow_up: dict) -> None:
    desk, number = later(desk_at(store), 1), follow_up["id"]
    with pytest.raises(InputError, match="2026-09-02 is not ahead"):
        contacting.log_contact(
            desk, number, None, Attempt("phone", "call_again_on", until=desk.today)
        )
    assert rows(store, tables.Contact) == []


@pytest.mark.parametrize("whose", ["adult_id", "contact_point_id"])
def test_whom_a_call_reached_belongs_to_the_person_called(
    store: Store, follow_up: dict, whose: str
) -> None:
    desk = later(desk_at(store), 1)
    other = somebody(desk, "W2")
    table = tables.AdultFor if whose == "adult_id" else tables.ContactPoint
    theirs = rows(store, table, person_id=other)[0]["id"]
    with pytest.raises(NotFound):
        attempt = Attempt("phone", "no_answer", **{whose: theirs})
        contacting.log_contact(desk, follow_up["id"], None, attempt)
    assert rows(store, tables.Contact) == []


def test_logging_holding_and_booking_give_back_what_one_had_in_hand(
    store: Store, follow_up: dict
) -> None:
    desk, number = later(desk_at(store), 1), follow_up["id"]
    for act in (
        lambda: contacting.log_contact(desk, number, None, Attempt("phone", "no_answer")),
        lambda: contacting.hold(desk, number, None, "abroad", desk.today + timedelta(days=2)),
        lambda: bookings.book(desk, number, None, Booking(at(follow_up["target"]))),
    ):
        contacting.claim(desk, number)
        assert rows(store, tables.FollowUp)[0]["claim_by_id"] == desk.by.id
        act()
        assert rows(store, tables.FollowUp)[0]["claim_by_id"] is None


def test_a_claim_that_has_run_out_stops_nobody(store: Store, follow_up: dict) -> None:
    """It runs until an instant; at that instant it is over."""
    mina = later(desk_at(store, by="mina"), 1)
    contacting.claim(later(desk_at(store), 1), follow_up["id"])
    for until, stops in ((mina.now + timedelta(seconds=1), True), (mina.now, False)):
        with store.write() as session:
            session.execute(update(tables.FollowUp.__table__).values(claim_until=until))
        if stops:
            with pytest.raises(Conflict, match="rob has follow-up"):
                contacting.log_contact(mina, follow_up["id"], None, Attempt("phone", "no_answer"))
        else:
            contacting.log_contact(mina, follow_up["id"], None, Attempt("phone", "no_answer"))
    assert [c["by_id"] for c in rows(store, tables.Contact)] == [mina.by.id]


@pytest.mark.parametrize(
    ("who", "after", "days", "allowed"),
    [
        (("rob", "medium"), 0, 0, True),  # until its latest day
        (("rob", "medium"), 0, 1, False),
        (("rob", "medium"), 10, 17, True),  # past that, for a week from today
        (("rob", "medium"), 10, 18, False),
        (("rob", "urgent"), 10, 11, False),  # what presses, not at all
        (("clara", "urgent"), 10, 11, True),
    ],
)
def test_how_long_anybody_may_hold_back(
    store: Store, follow_up: dict, who: tuple[str, str], after: int, days: int, allowed: bool
) -> None:
    """Days are counted from its latest day. The week: common practice, no source."""
    by, urgency = who
    with store.write() as session:
        session.execute(update(tables.FollowUp.__table__).values(urgency=urgency))
    today = follow_up["latest"] + timedelta(days=after) if after else TUESDAY
    desk, until = desk_at(store, today, by), follow_up["latest"] + timedelta(days=days)
    if not allowed:
        with pytest.raises(Refused, match=f"latest day on {follow_up['latest']}"):
            contacting.hold(desk, follow_up["id"], None, "abroad", until)
        assert rows(store, tables.FollowUpEvent) == []
        return
    done = contacting.hold(desk, follow_up["id"], None, " abroad ", until)

    event = rows(store, tables.FollowUpEvent)[0]
    assert done.words.startswith("Held back: abroad.")
    assert (event["what"], event["until"], event["why"]) == ("held", until, "abroad")


def test_what_a_clinician_looked_at_and_whom_the_gp_was_told_of_is_kept(
    store: Store, follow_up: dict
) -> None:
    contacting.looked(desk_at(store, by="clara"), [follow_up["id"]])
    contacting.gp_told(desk_at(store), follow_up["id"], None, " by letter ")
    noted = [(e["follow_up_id"], e["what"], e["why"]) for e in rows(store, tables.FollowUpEvent)]
    assert noted == [(follow_up["id"], "looked", ""), (follow_up["id"], "gp_told", "by letter")]


def test_an_empty_note_is_refused(store: Store, follow_up: dict) -> None:
    with pytest.raises(InputError, match="The note is empty"):
        contacting.note(desk_at(store), follow_up["id"], " ")


def test_an_address_check_without_words_is_refused(store: Store, follow_up: dict) -> None:
    with pytest.raises(InputError, match="without words"):
        contacting.address_checked(desk_at(store), follow_up["id"], None, " ")


def test_an_address_found_right_lets_letters_go_out_again(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "moved"))
    assert rows(store, tables.Person)[0]["moved_on"] == desk.today

    done = contacting.address_checked(
        desk, follow_up["id"], None, "asked the mother. ", still_there=True
    )
    event = rows(store, tables.FollowUpEvent)[0]
    assert rows(store, tables.Person)[0]["moved_on"] is None
    assert event["why"] == "asked the mother. The address on record is right"
    assert done.words.startswith("Address checked. The address on record is right.")
