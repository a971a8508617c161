"""Rows become the loop's facts, in the order in which things happened."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from msgspec.structs import replace
from sqlalchemy.orm import Session

from recall.loop import facts as loop
from recall.loop.referral import ReferralEvent
from recall.records import tables
from recall.records.database.store import Store
from recall.records.facts.events import facts_for
from recall.records.facts.referral_loops import referral_loops
from recall.records.ledger.storing import store_ledger
from tests.conftest import NOW
from tests.records.build import DAY, MADE, WHO, due, ledger, opens, person, referral


def made(days: int, **more: Any) -> dict[str, Any]:
    at = NOW + timedelta(days=days)
    return {"on": DAY + timedelta(days=days), "recorded_at": at, "by_id": 1, **more}


def day(days: int) -> date:
    return DAY + timedelta(days=days)


@pytest.fixture
def told(store: Store) -> Store:
    """One follow-up to which everything happened."""
    with store.write() as session:
        who = person(session, gp_may_be_told=True, dependent=True)
        store_ledger(session, who.id, ledger(due(), referrals=(referral(),)), WHO, opens)
        fill(session, who.id)
    return store


def fill(session: Session, person_id: int) -> None:
    own = {"follow_up_id": 1}
    mine = {"person_id": person_id, **own}
    starts = datetime(2026, 10, 20, 9, 30)
    session.add_all(
        [
            tables.FollowUpEvent(what="looked", **own, **made(1)),
            tables.Contact(channel="phone", outcome="no_answer", **mine, **made(3)),
            tables.Contact(
                channel="phone", outcome="call_again_on", until=day(9), **mine, **made(4)
            ),
            tables.FollowUpEvent(what="held", until=day(8), why="Away.", **own, **made(5)),
            tables.Booking(
                id=7, starts_local=starts, zone="Europe/London", late_why="", **mine, **made(10)
            ),
            tables.BookingEvent(booking_id=7, what="was_not_brought", **made(49)),
            tables.FollowUpEvent(what="keep_trying", **own, **made(50)),
            tables.Contact(
                channel="phone",
                outcome="died",
                void_at=NOW,
                void_by_id=1,
                void_why="wrong key",
                **mine,
                **made(6),
            ),
        ]
    )
    post_and_rest(session, person_id, mine)


def post_and_rest(session: Session, person_id: int, mine: dict[str, int]) -> None:
    letter = {"step": "invitation", "kind": "invitation", "language": "en", "format": "standard"}
    text = {"to_name": "A", "to_lines": ("B",), "body": "C"}
    for home in (1, 2):
        session.add(
            tables.Letter(
                home=home,
                posted_on=day(2),
                returned_on=day(12) if home == 2 else None,
                **letter,
                **text,
                **mine,
                **made(2),
            )
        )
    given = {"person_id": person_id, "raw": "x", **MADE}
    session.add_all(
        [
            tables.ContactPoint(kind="phone", value="+447700900123", **given),
            tables.ContactPoint(kind="address", value="1 Kiln Lane", safe="no", **given),
            tables.ContactPoint(kind="email", problem="no @", **given),
            tables.ReferralEvent(referral_id=1, what="sent", spoke_with="Clinic", **made(1)),
            tables.ReferralEvent(referral_id=1, what="appointment", day=day(20), **made(2)),
            tables.ReferralEvent(referral_id=1, what="asked_again", **made(3)),
        ]
    )


def test_facts_are_in_the_order_in_which_things_happened(told: Store) -> None:
    with told.read() as session:
        facts = facts_for(session, [1])[1]

    assert tuple(replace(event, recorded_at=None) for event in facts.events) == (
        loop.Looked(on=day(1)),
        loop.Posted(on=day(2), kind="invitation"),
        loop.Contact(on=day(3), channel="phone", outcome="no_answer"),
        loop.Contact(on=day(4), channel="phone", outcome="call_again_on", until=day(9)),
        loop.Held(on=day(5), until=day(8), why="Away."),
        loop.Booked(on=day(10), booking=7, day=date(2026, 10, 20)),
        loop.Returned(on=day(12), posted_on=day(2)),
        loop.BookingEnded(on=day(49), booking=7, how="was_not_brought"),
        loop.Decided(on=day(50), what="keep_trying"),
    )


def test_facts_hold_the_window_the_person_and_the_safe_ways_to_reach_them(told: Store) -> None:
    with told.read() as session:
        facts = facts_for(session, [1])[1]

    assert (facts.asked_on, facts.latest, facts.urgency) == (DAY, due().latest, "medium")
    assert (facts.dependent, facts.gp_agreed) == (True, True)
    assert facts.channels == {"phone", "text"}


def test_facts_known_at_an_instant_leave_out_what_was_recorded_later(told: Store) -> None:
    with told.read() as session:
        facts = facts_for(session, [1], known_at=NOW + timedelta(days=3))[1]

    assert [type(event).__name__ for event in facts.events] == ["Looked", "Posted", "Contact"]


def test_a_closed_follow_up_says_so_last(told: Store) -> None:
    with told.write() as session:
        row = session.get_one(tables.FollowUp, 1)
        row.is_open, row.next_step_on = False, None
        row.closed_on, row.close_reason = day(60), "answered"
        session.flush()

        facts = facts_for(session, [1])[1]

    assert facts.events[-1] == loop.Closed(on=day(60), reason="answered")


def test_a_referral_comes_back_as_it_was_asked_with_what_became_known(told: Store) -> None:
    with told.read() as session:
        found = referral_loops(session, [1])[1]

    assert found.referral == referral()
    assert (found.route, found.events) == (
        "direct",
        (
            ReferralEvent(on=day(1), what="sent", spoke_with="Clinic"),
            ReferralEvent(on=day(2), what="appointment", day=day(20)),
        ),
    )
