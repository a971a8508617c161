"""What a parent says of one child is told, and held, for every other one they answer for."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.rights import Role
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.people import person_card
from recall.desk.people.editing import record_objection, record_unsafe
from recall.desk.post.posting import mark_posted
from recall.desk.worklists.call_card import call_cards_of
from recall.desk.worklists.matter_list import matters
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.posting import made, on
from tests.desk.practice import (
    DAY,
    FLUID,
    desk_at,
    open_follow_ups,
    rows,
    somebody,
    visit,
    with_files,
)

POST_DAY = DAY + timedelta(days=14)


@pytest.fixture
def desk(store: Store, tmp_path: Path) -> Desk:
    """A desk whose letters are printed beside the register; two children of one mother."""
    found = with_files(desk_at(store), letters=tmp_path / "letters")
    for ref in ("W1", "W2"):
        visit(found, somebody(found, ref), right=FLUID)
    return found


def said(desk: Desk, outcome: str) -> str:
    number = open_follow_ups(desk.store, 1)[0]["id"]
    return contacting.log_contact(desk, number, None, Attempt("phone", outcome)).words


@pytest.mark.parametrize(
    ("outcome", "words"),
    [("do_not_contact", "asked not to be contacted"), ("not_safe", "is not safe to contact")],
)
def test_it_stands_on_the_siblings_line_and_all_is_held(
    desk: Desk, outcome: str, words: str
) -> None:
    told = said(desk, outcome)
    assert "Held until 29 September 2026 for W2 too: the same adult answers for them." in told
    (card,) = call_cards_of(desk, "W2")
    assert f"On this number or at this address: W1 {words} (1 September 2026)." in card.warnings
    (held,) = rows(desk.store, tables.FollowUpEvent, what="held")
    assert held["follow_up_id"] == card.follow_up and "A clinician decides" in held["why"]
    assert card.next_step_on is not None and card.next_step_on >= held["until"]

    undo(desk)
    (card,) = call_cards_of(desk, "W2")
    assert not any("W1" in warning for warning in card.warnings)
    assert rows(desk.store, tables.FollowUpEvent, what="held") == []


@pytest.mark.parametrize("stop", [record_objection, record_unsafe])
def test_the_siblings_letter_in_the_same_envelope_does_not_leave(desk: Desk, stop: object) -> None:
    then = on(desk, POST_DAY)
    made(then)
    done = stop(then, "W1")  # type: ignore[operator]
    letters = rows(desk.store, tables.Letter)
    assert [letter["person_id"] for letter in letters] == [1, 2]
    for letter in letters:
        assert f"{letter['id']}" in done.words
    off = mark_posted(then, 1)
    assert len(off) == 2
    assert all(letter["posted_on"] is None for letter in rows(desk.store, tables.Letter))


def test_what_is_not_printed_is_pulled(desk: Desk) -> None:
    from recall.desk.post.batches import prepare

    then = on(desk, POST_DAY)
    prepare(then)
    record_objection(then, "W1")
    (theirs,) = rows(desk.store, tables.Letter, person_id=2)
    assert theirs["pulled_why"] == "of a sibling: asked not to be contacted"


def test_whoever_only_shares_the_number_is_told_and_not_held(desk: Desk) -> None:
    """A home of ten is not silenced by what one of them says."""
    other = somebody(desk, "W3")
    visit(desk, other, right=FLUID)
    with desk.store.write() as session:
        adult = tables.AdultFor.__table__
        session.execute(adult.update().where(adult.c.person_id == other).values(name="Mr Other"))
    told = said(desk, "do_not_contact")
    assert "for W2 too" in told
    (card,) = call_cards_of(desk, "W3")
    assert any("W1 asked not to be contacted" in warning for warning in card.warnings)
    assert len(rows(desk.store, tables.FollowUpEvent, what="held")) == 1


def on_lead(desk: Desk) -> Desk:
    return replace(desk, by=replace(desk.by, role=Role.CLINICAL_LEAD))


def test_it_stands_on_the_siblings_card_as_well(desk: Desk) -> None:
    said(desk, "do_not_contact")
    words = "On this number or at this address: W1 asked not to be contacted (1 September 2026)."
    assert words in person_card.person(desk, "W2").warnings


def test_a_clinician_is_asked_where_nothing_is_open_for_the_child_it_was_said_of(
    desk: Desk,
) -> None:
    """Nothing of that child would stand on the clinicians' list, and the others are held."""
    other = somebody(desk, "W3")
    done = record_objection(desk, "W3")
    assert open_follow_ups(desk.store, other) == []
    assert "Held until 29 September 2026 for W1, W2 too" in done.words
    (asked,) = matters(on_lead(desk))
    assert asked.reference == "W3" and "for W1, W2: decide on each" in asked.text
    undo(desk)
    assert matters(on_lead(desk)) == ()


def test_nobody_is_asked_twice_where_the_child_stands_on_the_clinicians_list(desk: Desk) -> None:
    record_objection(desk, "W1")
    assert rows(desk.store, tables.Matter) == []
