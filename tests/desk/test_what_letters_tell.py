"""How much a letter to a person tells of why: as much as the practice has chosen, never more."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import pytest
from sqlalchemy import update

from recall.desk.core.session import Desk
from recall.letters import sample
from recall.letters.compose import compose
from recall.letters.wording import Wording
from recall.letters.wording.blocks import plain
from recall.records import tables
from tests.desk.posting import child_with_fluid, first_letter_day, letters, made, on

WHY = "We would like to look at the ear again."


def telling(desk: Desk) -> Desk:
    """The desk of a practice whose letters say what for."""
    letters_of = msgspec.structs.replace(desk.config.letters, says="what_for")
    return replace(desk, config=msgspec.structs.replace(desk.config, letters=letters_of))


def first_letter(desk: Desk) -> str:
    person = child_with_fluid(desk)
    made(on(desk, first_letter_day(desk, person)))
    (row,) = letters(desk)
    return str(row["body"])


def test_letters_say_nothing_of_why_unless_the_practice_has_chosen_so(desk: Desk) -> None:
    assert WHY not in first_letter(desk)


def test_where_it_has_they_say_what_for_in_plain_words(desk: Desk) -> None:
    assert WHY in first_letter(telling(desk))


@pytest.mark.parametrize("safe", ["only_this", "no"])
def test_a_way_that_is_not_safe_keeps_every_letter_neutral(desk: Desk, safe: str) -> None:
    desk = telling(desk)
    person = child_with_fluid(desk)
    day = on(desk, first_letter_day(desk, person))
    phone = tables.ContactPoint.kind == "phone"
    with desk.store.write() as session:
        session.execute(update(tables.ContactPoint.__table__).where(phone).values(safe=safe))
    made(day)

    assert not any(WHY in row["body"] for row in letters(desk))


@pytest.mark.parametrize(
    ("matters", "words"),
    [(True, "Please do not leave this."), (False, "This visit is a check.")],
)
def test_the_last_letter_says_how_much_the_visit_matters(matters: bool, words: str) -> None:
    told = msgspec.structs.replace(sample.letter("last_letter"), matters=matters)
    text = plain(compose(told, Wording()).body)

    both = ("Please do not leave this.", "This visit is a check.")
    assert [each for each in both if each in text] == [words]
