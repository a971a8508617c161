"""Whoever told us what a clinician must answer is rung by nobody else until that is answered."""

from __future__ import annotations

from typing import Any

import pytest

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.contacts.spoken_of import spoken_of
from recall.desk.core.session import Desk
from recall.desk.oversight.counts import counts
from recall.desk.plans import decisions
from recall.desk.plans.decisions import Decided
from recall.desk.worklists.call_card import call_cards
from recall.desk.worklists.lists import for_clinician
from recall.desk.worklists.queue_lines import queue_lines
from recall.records.database.store import Store
from tests.desk.practice import FLUID, desk_at, later, open_follow_ups, somebody, stands_at, visit
from tests.desk.test_per_person import WAX


@pytest.fixture
def two(store: Store) -> list[dict[str, Any]]:
    """Wax to be tried again in a few days, and fluid to be looked at in some weeks."""
    desk = desk_at(store)
    visit(desk, somebody(desk), right=FLUID, left=WAX)
    fluid, wax = sorted(open_follow_ups(store, 1), key=lambda f: f["latest"], reverse=True)
    return [dict(wax), dict(fluid)]


def both_to_ring(store: Store, number: int) -> Desk:
    """Return the desk on a day on which somebody is to be rung about all that is open."""
    desk = later(desk_at(store), 2)
    contacting.log_contact(desk, number, None, Attempt("phone", "will_call_back"))
    return later(desk, 7)


def listed(desk: Desk) -> tuple[list[str], list[str]]:
    """Return who is on reception's list and on the clinicians'; the first one is counted so."""
    rung = [line.reference for line in queue_lines(desk)]
    found = counts(desk).by_step
    assert found is not None and found.to_reach == len(rung)
    return rung, [line.reference for line in for_clinician(desk)]


@pytest.mark.parametrize("outcome", ["seen_elsewhere", "declines", "cannot_travel"])
def test_what_is_left_of_a_person_waits_for_the_clinicians_answer(
    store: Store, two: list, outcome: str
) -> None:
    wax, fluid = two
    desk = both_to_ring(store, fluid["id"])
    assert [stands_at(desk, one) for one in two] == ["phone", "phone"]
    contacting.log_contact(desk, wax["id"], None, Attempt("phone", outcome, which=(wax["id"],)))
    assert stands_at(desk, fluid) == "phone"
    assert listed(desk)[0] == []
    weeks = later(desk, 14)
    assert listed(weeks) == ([], ["W1"])

    clinician = desk_at(store, weeks.today, by="clara")
    decisions.decide(clinician, [wax["id"]], Decided("keep_trying", "the letter is here"))
    assert listed(later(weeks, 7)) == (["W1"], [])


def test_what_they_ring_off_with_is_said(store: Store, two: list) -> None:
    wax, _fluid = two
    done = contacting.log_contact(
        later(desk_at(store), 2), wax["id"], None, Attempt("phone", "seen_elsewhere")
    )
    assert "Stays open: right fluid." in done.words
    assert "They are rung about it when a clinician has answered." in done.words


@pytest.mark.parametrize("outcome", ["worse", "wants_clinician"])
def test_who_is_passed_on_leaves_the_list_at_once(store: Store, two: list, outcome: str) -> None:
    desk = both_to_ring(store, two[1]["id"])
    contacting.log_contact(desk, two[0]["id"], None, Attempt("phone", outcome))
    assert listed(desk) == ([], ["W1"])
    numbers = [one["id"] for one in two]
    assert call_cards(desk, numbers) == ()
    assert [card.follow_up for card in call_cards(desk, numbers, numbers[0])] == numbers[:1]
    assert listed(later(desk, 30)) == ([], ["W1"])


def test_a_call_says_of_what_it_is_so_that_one_of_them_can_be_named(
    store: Store, two: list
) -> None:
    wax, fluid = two
    desk = later(desk_at(store), 2)
    found = spoken_of(desk, fluid["id"])
    assert [one.follow_up for one in found] == [fluid["id"], wax["id"]]
    assert found[0].words == "right fluid, by 27 October 2026"


def test_for_somebody_else_it_changes_nothing(store: Store, two: list) -> None:
    desk = desk_at(store)
    visit(desk, somebody(desk, "W2"), right=FLUID)
    other = open_follow_ups(store, 2)[0]
    then = both_to_ring(store, other["id"])
    contacting.log_contact(then, two[1]["id"], None, Attempt("phone", "worse"))
    assert listed(then) == (["W2"], ["W1"])
