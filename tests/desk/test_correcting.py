"""A misspelt name or a wrong birth date is put right: who, when, from what to what, and why."""

from __future__ import annotations

from datetime import date

import pytest

from recall.desk.core import undo
from recall.desk.people.correcting import correct, effect_of
from recall.desk.people.person_card import find, person
from recall.desk.people.timeline import timeline
from recall.errors import Conflict, InputError
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    FLUID,
    desk_at,
    history_is_whole,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)


def test_a_name_is_put_right_with_who_when_from_and_to(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk, family_name="Thackwel")

    done = correct(desk, "W1", None, family_name=" Thackwell ", title="Miss")

    assert done.words == "Put right: title, family name."
    assert [found.ref for found in find(desk, "thackwell")] == ["W1"]
    told = [str(each) for each in timeline(desk, "W1")]
    assert any(
        "family name from Thackwel to Thackwell" in each and each.endswith("(rob)") for each in told
    )
    undo.undo(desk)
    assert person(desk, "W1").name == "Rowan Thackwel"
    assert history_is_whole(store)


def test_another_birth_date_plans_again_and_says_what_changes(store: Store) -> None:
    """Fluid in an adult over 40 is referred, a child's is looked at again: NHS Lothian's page."""
    desk = desk_at(store, by="clara")
    number = somebody(desk, born=date(2020, 3, 2))
    visit(desk, number, right=FLUID)
    before = open_follow_ups(store, number)

    effect = effect_of(desk, "W1", date(1960, 3, 2))
    assert effect.changes
    assert open_follow_ups(store, number) == before
    with pytest.raises(InputError, match="for a reason"):
        correct(desk, "W1", None, born=date(1960, 3, 2))
    done = correct(desk, "W1", None, "her passport", born=date(1960, 3, 2))

    assert done.words.startswith("Put right: birth date. Planned again: ")
    assert all(change in done.words for change in effect.changes)
    assert person(desk, "W1").notes[0].words == "her passport"
    assert any("refer to" in change for change in effect.changes)
    assert [row["to"] for row in rows(store, tables.Referral)] == ["ent"]
    undo.undo(desk)
    assert person(desk, "W1").born == date(2020, 3, 2)


def test_what_presses_less_by_another_birth_date_is_seen_by_a_second_person(store: Store) -> None:
    """The other way round the referral would go, so that somebody else has to see that."""
    desk = desk_at(store, by="clara")
    number = somebody(desk, born=date(1960, 3, 2), adult=False)
    visit(desk, number, right=FLUID)
    effect = effect_of(desk, "W1", date(2020, 3, 2))
    assert effect.milder

    done = correct(desk, "W1", None, "typed wrong", born=date(2020, 3, 2))

    assert "A second person looks at what presses less now" in done.words
    waiting = rows(store, tables.MilderLine)
    assert len(waiting) == len(effect.milder)
    assert {row["why"] for row in waiting} == {"typed wrong"}


def test_a_birth_date_that_changes_nothing_says_so(store: Store) -> None:
    desk = desk_at(store, by="clara")
    number = somebody(desk, born=date(2020, 3, 2))
    visit(desk, number, right=FLUID)

    done = correct(desk, "W1", None, "the red book", born=date(2020, 3, 3))

    assert done.words == "Put right: birth date. Planned again: nothing changes."


@pytest.mark.parametrize(
    ("details", "says"),
    [
        ({"born": date(2030, 1, 1)}, "is ahead"),
        ({"born": date(2026, 9, 2)}, "They were seen on 1 September 2026"),
        ({"family_name": " "}, "family name is empty"),
        ({"nhs_number": "9434765918"}, "check digit"),
        ({"shoe_size": "44"}, "is not put right here"),
    ],
)
def test_what_cannot_be_is_refused(store: Store, details: dict[str, object], says: str) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID)

    with pytest.raises(InputError, match=says):
        correct(later(desk, 3), "W1", None, "it is so", **details)
    assert person(desk, "W1").born == date(2020, 3, 2)


def test_a_second_desk_that_was_quicker_is_noticed(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)
    version = person(desk, "W1").version
    correct(desk, "W1", version, known_as="Ro")

    with pytest.raises(Conflict, match="meanwhile"):
        correct(desk, "W1", version, family_name="Thackwel")
    assert correct(desk, "W1", None, known_as="Ro").words == "Nothing was changed."
