"""Which referral goes on as which row, when it is chased, and what the register notes of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.database.store import Store
from recall.records.ledger.storing import store_ledger
from recall.schedule.plan import ReferralEnd
from tests.records.build import WHO, last_told, ledger, opens, person, referral, rows, visit

LATER = date(2026, 10, 13)
"""Six weeks after the visit."""


def keep(session: Session, person_id: int, on: date = WHO.on, **kwargs: Any) -> None:
    store_ledger(session, person_id, ledger(**kwargs), replace(WHO, on=on), opens)


@pytest.mark.parametrize(
    "other", [{"to": "gp"}, {"ears": ("left",)}], ids=["another service", "the other ear"]
)
def test_a_referral_for_something_else_is_a_row_of_its_own(
    store: Store, other: dict[str, Any]
) -> None:
    """The ENT referral for the right ear was accepted: it stays, and is to be looked at."""
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))
        rows(session, tables.Referral)[0].stage = "accepted"

        keep(session, who.id, referrals=(referral(**other),))

        found = [(r.to, r.ears, r.stage) for r in rows(session, tables.Referral)]
        noted = [(e.referral_id, e.what) for e in rows(session, tables.ReferralEvent)]
    asked = referral(**other)
    assert found == [("ent", ("right",), "accepted"), (asked.to, asked.ears, "sent")]
    assert noted == [(1, "no_longer_asked")]


def test_a_referral_asked_again_keeps_its_day_once_sent_and_is_told_in_full(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))
        row = rows(session, tables.Referral)[0]
        row.stage, row.chase_on = "accepted", date(2026, 9, 20)
        seen = visit(session, who.id, LATER)

        keep(session, who.id, referrals=(referral(LATER, ears=("right", "left")),), on=LATER)

        row = rows(session, tables.Referral)[0]
        assert (row.visit_id, row.chase_on, row.version) == (seen.id, date(2026, 9, 20), 3)
        assert (row.ears, row.urgency_rank, row.seen_by) == (
            ("right", "left"),
            2,
            date(2026, 11, 24),
        )
        event = rows(session, tables.ReferralEvent)[0]
        assert (event.what, event.on) == ("asked_again", LATER)
        what, was, now = last_told(session, "referral")
    assert (what, was) == (
        "asked_again",
        {
            "to": "ent",
            "ears": ["right"],
            "urgency": "high",
            "asked_on": "2026-09-01",
            "sent_by": "2026-09-04",
            "seen_by": "2026-10-13",
            "chase_on": "2026-09-20",
        },
    )
    assert now == {
        "ears": ["right", "left"],
        "asked_on": "2026-10-13",
        "sent_by": "2026-10-16",
        "seen_by": "2026-11-24",
        "chase_on": "2026-09-20",
    }


def test_a_referral_not_sent_yet_is_chased_by_its_new_ask(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))
        keep(session, who.id, referrals=(referral(LATER),), on=LATER)

        assert rows(session, tables.Referral)[0].chase_on == date(2026, 10, 16)


@pytest.mark.parametrize(
    ("has_visit", "reason"), [(True, "superseded"), (False, "entered_in_error")]
)
def test_a_referral_not_sent_ends_by_whether_its_visit_stands(
    store: Store, has_visit: bool, reason: str
) -> None:
    with store.write() as session:
        who = person(session)
        if has_visit:
            visit(session, who.id)
        keep(session, who.id, referrals=(referral(),))
        keep(session, who.id, on=LATER)

        row, event = rows(session, tables.Referral)[0], rows(session, tables.ReferralEvent)[0]
        told = last_told(session, "referral")
    assert (row.is_open, row.end_reason, row.ended_on, row.chase_on) == (False, reason, LATER, None)
    assert (event.what, event.reason, event.on) == ("closed", reason, LATER)
    assert (told[0], told[1]["chase_on"], told[2]) == ("closed", "2026-09-04", reason)


def test_a_referral_that_was_over_when_it_became_known_is_kept_closed(store: Store) -> None:
    over = ReferralEnd(referral=referral(), on=LATER, reason="under_care")
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referral_ends=(over,))
        keep(session, who.id, referral_ends=(over,))

        found = [
            (r.is_open, r.ended_on, r.end_reason, r.chase_on)
            for r in rows(session, tables.Referral)
        ]
    assert found == [(False, LATER, "under_care", None)]


@pytest.mark.parametrize(
    ("chase_on", "then"), [(date(2026, 9, 4), date(2026, 9, 4)), (date(2026, 12, 1), LATER)]
)
def test_a_sent_referral_asked_for_no_more_is_chased_today_at_the_latest(
    store: Store, chase_on: date, then: date
) -> None:
    with store.write() as session:
        who = person(session)
        keep(session, who.id, referrals=(referral(),))
        row = rows(session, tables.Referral)[0]
        row.stage, row.chase_on = "accepted", chase_on

        keep(session, who.id, on=LATER)

        event = rows(session, tables.ReferralEvent)[0]
        assert rows(session, tables.Referral)[0].chase_on == then
        assert (event.what, event.on) == ("no_longer_asked", LATER)
