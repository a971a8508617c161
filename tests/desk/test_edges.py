"""Edges of what the desk does: the day itself, the last who may decide, what was never posted."""

from __future__ import annotations

from datetime import date

import pytest

from recall.care.case import Case, Risk, Visit
from recall.care.ear import Ear
from recall.clock import Clock
from recall.desk.contacts import contact_points
from recall.desk.contacts.entries import ContactPoint
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe
from recall.desk.people import editing
from recall.desk.post.posting import mark_posted, mark_returned
from recall.desk.practice.staff import mark_left
from recall.desk.visits.cautions import cautions
from recall.errors import InputError, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.posting import made
from tests.desk.practice import DAY, FLUID, KERATIN, desk_at, rows, somebody, visit
from tests.desk.test_failsafe import BROKEN, break_with

PAST_GROMMET = "a grommet in the past, not documented as out for 18 months and discharged"


def test_a_letter_that_was_never_posted_cannot_come_back(due: tuple[Desk, int]) -> None:
    desk, _person = due
    made(desk)
    with pytest.raises(Refused, match="was not posted"):
        mark_returned(desk, "1-0001")
    mark_posted(desk, 1)
    mark_returned(desk, "1-0001")
    with pytest.raises(Refused, match="came back before"):
        mark_returned(desk, "1-0001")


def test_somebody_may_be_born_today_and_not_tomorrow(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)
    editing.edit_details(desk, "W1", None, born=DAY)
    assert rows(store, tables.Person)[0]["born"] == DAY
    with pytest.raises(InputError, match="2026-09-02 is ahead"):
        editing.edit_details(desk, "W1", None, born=date(2026, 9, 2))


def test_a_way_to_reach_somebody_takes_known_words_for_its_safety_only(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)
    with pytest.raises(InputError, match="'perhaps' is no word for safety"):
        contact_points.add_contact_point(
            desk, "W1", ContactPoint("phone", "01632 960555", safe="perhaps")
        )
    phone = rows(store, tables.ContactPoint, kind="phone")[0]["id"]
    with pytest.raises(InputError, match="'perhaps' is no word for safety"):
        contact_points.edit_contact_point(desk, phone, safe="perhaps")

    contact_points.edit_contact_point(desk, phone, safe="only_this", label="work", checked=True)
    kept = rows(store, tables.ContactPoint, kind="phone")
    assert [(r["safe"], r["label"], r["checked_on"]) for r in kept] == [("only_this", "work", DAY)]


# NHS Tayside, Ear wax (Right Decisions): grommets, unless out for 18 months and discharged.
@pytest.mark.parametrize(
    ("looked", "told"), [("in_place", True), ("blocked", True), ("gone", False), ("none", False)]
)
def test_a_grommet_of_the_past_counts_until_it_was_seen_to_be_out(looked: str, told: bool) -> None:
    case = Case(
        born=date(1990, 1, 1),
        risks=(Risk(what="previous_grommet", ear="right"),),
        visits=(Visit(on=date(2020, 1, 1), right=Ear(grommet=looked)),),
    )
    assert (PAST_GROMMET in {c.because for c in cautions(case, DAY)}) is told


def test_the_last_who_may_decide_does_not_leave(store: Store) -> None:
    with pytest.raises(Refused, match="clara is the last who may decide"):
        mark_left(store, Clock.at(DAY), "clara", DAY, by="clara")
    assert rows(store, tables.Staff, handle="clara")[0]["left_on"] is None
    mark_left(store, Clock.at(DAY), "rob", DAY, by="rob")
    assert rows(store, tables.Staff, handle="rob")[0]["left_on"] == DAY


def test_what_is_found_is_named_by_its_row(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID, left=KERATIN)
    break_with(store, *BROKEN["closed_without_reason"], *BROKEN["owner_left"])
    found = failsafe.run(desk_at(store, by="nightly")).findings
    named = {(f.kind, f.entity, f.entity_id) for f in found}
    assert {n for n in named if n[0] == "closed_without_reason"} == {
        ("closed_without_reason", "due", 1)
    }
    assert ("owner_left", "referral", 1) in named
