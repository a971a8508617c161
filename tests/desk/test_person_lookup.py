"""A reference means the same person however it is typed, and two are never mixed up."""

from __future__ import annotations

import pytest

from recall.desk.core.person_lookup import person_id, reference_of
from recall.desk.people.person_card import find
from recall.desk.plans.explaining import explain_person
from recall.errors import InputError, NotFound
from recall.records.database.store import Store
from tests.desk.practice import desk_at, somebody

ODD = ("W1573", "w1573", " W1573 ", "W 1573", "w-1573", "W01573", "w 0001573", "ｗ1573")


@pytest.mark.parametrize("typed", ODD)
def test_a_reference_is_found_however_it_is_typed(store: Store, typed: str) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk, "W157")
    child = somebody(desk, "W1573")
    somebody(desk, "W15730")

    with store.read() as session:
        assert person_id(session, typed) == child
    assert reference_of(desk, typed) == "W1573"
    assert find(desk, typed)[0].ref == "W1573"
    assert explain_person(desk, typed) == explain_person(desk, "W1573")


def test_the_nearest_spelling_comes_first_and_a_toss_up_is_refused(store: Store) -> None:
    desk = desk_at(store, by="clara")
    short, long = somebody(desk, "W7"), somebody(desk, "W007")
    with store.read() as session:
        assert (person_id(session, "w7"), person_id(session, "w007")) == (short, long)
        with pytest.raises(InputError, match="may be W007, W7"):
            person_id(session, "w07")


def test_nobody_is_found_for_another_number(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk, "W42")
    with store.read() as session:
        for typed in ("W420", "W4", "V42", "42", "", "  ", "W4 2"):
            with pytest.raises(NotFound):
                person_id(session, typed)
