"""What others do and told, and what somebody who may decide asks for between visits."""

from __future__ import annotations

from datetime import timedelta

import pytest

from recall.desk.core.undo import undo
from recall.desk.oversight import failsafe
from recall.desk.people import person_card
from recall.desk.plans import clinician_asks
from recall.desk.visits import care_elsewhere
from recall.desk.visits.care_elsewhere import CareElsewhere
from recall.errors import InputError, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    CLEAR,
    FLUID,
    KERATIN,
    desk_at,
    history_is_whole,
    later,
    rows,
    somebody,
    visit,
)


def open_referrals(store: Store) -> list:
    return list(rows(store, tables.Referral, is_open=True))


def test_what_is_followed_elsewhere_is_not_referred_until_that_care_ends(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person_id = somebody(desk)
    care = care_elsewhere.record_care(
        desk, "W1", CareElsewhere("ent", ear="right", since="2026-01")
    ).made
    assert care is not None
    visit(desk, person_id, right=KERATIN)
    assert open_referrals(store) == []
    care_elsewhere.end_care(later(desk, 5), care, "their letter of discharge")
    visit(later(desk, 10), person_id, right=KERATIN)
    assert {r["to"] for r in open_referrals(store)} == {"ent"}
    assert history_is_whole(store)


def test_fluid_that_others_told_starts_the_clock(store: Store) -> None:
    desk = desk_at(store)
    person_id = somebody(desk)
    visit(desk, person_id, right=FLUID, left=FLUID)
    before = {(d["rule"], d["latest"]) for d in rows(store, tables.Due, is_open=True)}
    care_elsewhere.record_told(
        desk, "W1", "2026-04-01", "right", "health visitor", effusion="present"
    )
    after = {(d["rule"], d["latest"]) for d in rows(store, tables.Due, is_open=True)}
    assert after != before
    undo(desk)
    again = {(d["rule"], d["latest"]) for d in rows(store, tables.Due, is_open=True)}
    assert again == before


def test_what_cannot_be_told_is_refused(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    with pytest.raises(InputError, match="tell at least one"):
        care_elsewhere.record_told(desk, "W1", "2026-04", "right", "GP")
    with pytest.raises(InputError, match="is ahead"):
        care_elsewhere.record_told(desk, "W1", "2027-04", "right", "GP", effusion="present")
    with pytest.raises(InputError, match="cannot be recorded"):
        care_elsewhere.record_care(desk, "W1", CareElsewhere("somewhere"))
    with pytest.raises(InputError, match="cannot be recorded"):
        care_elsewhere.record_care(desk, "W1", CareElsewhere("ent", since="2026-19"))


def test_a_referral_can_be_asked_for_between_visits(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person_id = somebody(desk)
    visit(desk, person_id, right=CLEAR, left=CLEAR)
    then = later(desk, 3)
    with pytest.raises(Refused):
        clinician_asks.ask_referral(
            later(desk_at(store), 3), "W1", "ent", ["right"], "urgent", "pain"
        )
    clinician_asks.ask_referral(then, "W1", "ent", ["right"], "urgent", "worse, by phone")
    card = person_card.person(then, "W1")
    assert [(r.to, r.ears, r.urgency) for r in card.referrals] == [("ent", ("right",), "urgent")]
    assert failsafe.run(then).findings == ()
    undo(then)
    assert open_referrals(store) == []


def test_another_look_can_be_asked_for_between_visits(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person_id = somebody(desk)
    visit(desk, person_id, right=CLEAR, left=CLEAR)
    then = later(desk, 3)
    with pytest.raises(InputError, match="is no look"):
        clinician_asks.ask_look(then, "W1", "refer", ["left"], None, "x")
    with pytest.raises(InputError, match="Which ear"):
        clinician_asks.ask_look(then, "W1", "hearing_check", [], None, "x")
    clinician_asks.ask_look(then, "W1", "hearing_check", ["left"], "high", "mother worried")
    due = rows(store, tables.Due, category="hearing_check", is_open=True)[-1]
    assert (due["ear"], due["urgency"], due["asked_on"]) == ("left", "high", then.today)
    assert due["latest"] > then.today + timedelta(days=1)
    assert failsafe.run(then).findings == ()
