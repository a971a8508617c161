"""Somebody who needs the spoken form is rung in the place of letters, by a script."""

from __future__ import annotations

from datetime import date

import pytest

from recall.desk.people.editing import FORMATS
from recall.desk.post.call_scripts import script_for
from recall.errors import NotFound, Refused
from recall.loop.status import status_on
from recall.records.database.store import Store
from recall.records.facts.events import facts_for
from tests.desk.practice import (
    FLUID,
    desk_at,
    open_follow_ups,
    protocol,
    somebody,
    visit,
)


def follow_up(store: Store, **person: object) -> int:
    desk = desk_at(store, by="clara")
    number = somebody(desk, **person)
    visit(desk, number, right=FLUID)
    return int(open_follow_ups(store, number)[0]["id"])


def steps(store: Store, number: int) -> set[str]:
    """The kinds of step that would come up over the next months if nobody did anything."""
    with store.read() as session:
        facts = facts_for(session, [number])[number]
    days = [date(2026, 9, 2), date(2026, 9, 16), date(2026, 10, 1), date(2026, 10, 20)]
    found = [status_on(facts, day, protocol().contact).step for day in days]
    return {step.kind for step in found if step is not None}


def test_letters_become_calls_for_who_needs_the_spoken_form(store: Store) -> None:
    written = follow_up(store, ref="W1")
    rung = follow_up(store, ref="W2", format="spoken")

    assert "letter" in _channels(store, written)
    assert "letter" not in _channels(store, rung)
    assert not {"invitation", "reminder", "last_letter"} & steps(store, rung)


def _channels(store: Store, number: int) -> frozenset[str]:
    with store.read() as session:
        return frozenset(facts_for(session, [number])[number].channels)


def test_the_script_asks_who_it_is_before_it_says_why(store: Store) -> None:
    desk = desk_at(store)
    said = script_for(desk, follow_up(store, format="spoken"))

    assert "Ida Thackwell" in said
    assert "Rowan" in said
    assert said.index("date of birth") < said.index("why you call")
    for word in ("fluid", "hearing loss", "drum"):
        assert word not in said.lower()


def test_nobody_is_given_a_script_to_ring_who_must_not_be_rung(store: Store) -> None:
    number = follow_up(store, objected_on=date(2026, 8, 1))

    with pytest.raises(Refused):
        script_for(desk_at(store), number)
    with pytest.raises(NotFound):
        script_for(desk_at(store), 999)


def test_the_spoken_form_can_be_set_and_imported() -> None:
    assert "spoken" in FORMATS
