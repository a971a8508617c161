"""Somebody new: looked for by every likeness before anything is written, then written whole."""

from __future__ import annotations

from datetime import date

import pytest

from recall.desk.core import undo
from recall.desk.core.session import Desk
from recall.desk.people.new_person import NewPerson, Said, add_person, taken_apart, who_may_be
from recall.desk.people.person_card import find, person
from recall.errors import Conflict, InputError, Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import desk_at, history_is_whole, rows, somebody

ANN = NewPerson("Ó Dálaigh", "Ann", date(1948, 3, 7), phone="01632 960456")


def known(store: Store) -> Desk:
    """A desk with one adult in the register who has every likeness to be found by."""
    desk = desk_at(store)
    about = {"given_names": "Anne", "family_name": "O'Daly", "born": date(1948, 3, 7)}
    somebody(desk, "W1", adult=False, nhs_number="9434765919", **about)
    return desk


@pytest.mark.parametrize(
    ("new", "by"),
    [
        (NewPerson("O Dalaigh", "Ann", date(1948, 3, 7)), "a name that sounds alike"),
        (NewPerson("O'Daly", "Anne", date(1948, 7, 3)), "nearly the same birth date"),
        (NewPerson("O'Daly", "Anne", date(1958, 3, 7)), "nearly the same birth date"),
        (NewPerson("Anne", "O'Daly", date(1948, 3, 7)), "the same birth date"),
        (
            NewPerson("Quite", "Other", date(1990, 1, 1), nhs_number="943 476 5919"),
            "the same NHS number",
        ),
        (
            NewPerson("O'Daly", "Anne", date(1971, 9, 9), phone="+44 (0)1632 960321"),
            "the same number to ring",
        ),
        (
            NewPerson("Daly-Quill", "Anne", date(1948, 3, 7), postcode="wr99zx"),
            "the same postcode",
        ),
    ],
)
def test_somebody_who_may_be_the_same_is_found_by_each_likeness(
    store: Store, new: NewPerson, by: str
) -> None:
    desk = known(store)

    (found,) = who_may_be(desk, new)

    assert found.ref == "W1" and by in found.by
    with pytest.raises(Refused, match="Not written down: this may be W1 Anne O'Daly"):
        add_person(desk, new)
    assert len(rows(store, tables.Person)) == 1


@pytest.mark.parametrize(
    "new",
    [
        NewPerson("Thackray", "Joan", date(1948, 3, 7)),
        NewPerson("O'Daly", "Anne", date(1990, 11, 11)),
        NewPerson("Tindall", "Hassan", date(1971, 9, 9), phone="01632 960321"),
    ],
)
def test_a_birth_date_a_name_or_a_household_alone_is_no_likeness(
    store: Store, new: NewPerson
) -> None:
    assert who_may_be(known(store), new) == ()


def test_whoever_was_looked_at_and_is_somebody_else_stands_in_the_way_no_longer(
    store: Store,
) -> None:
    desk = known(store)

    done = add_person(desk, ANN, ("W1",))

    assert done.words == "Written down as N-1. A visit makes their plan."
    card = person(desk, "N-1")
    assert (card.name, card.born) == ("Ann Ó Dálaigh", date(1948, 3, 7))
    assert [way.value for way in card.contact_points] == ["+441632960456"]
    assert [found.ref for found in find(desk, "O'Dalaigh 960456")] == ["N-1"]
    assert history_is_whole(store)


def test_a_child_is_written_down_with_who_answers_for_them(store: Store) -> None:
    desk = desk_at(store)
    child = NewPerson("Pryce", "Llŷr [/b] 👂", date(2021, 5, 5), phone="01632 960457")

    with pytest.raises(InputError, match="somebody who answers for them"):
        add_person(desk, child)
    made = NewPerson(
        *("Pryce", "Llŷr [/b] 👂", date(2021, 5, 5)),
        phone="01632 960457",
        address="3 Kiln Lane\nWrenfield",
        postcode="WR9 9ZX",
        adult="Bronwen Pryce",
        relation="mother",
    )
    add_person(desk, made)

    card = person(desk, "N-1")
    (mother,) = card.adults
    assert (mother.name, mother.role) == ("Bronwen Pryce", "responsible_adult")
    assert {(w.kind, w.adult_id) for w in card.contact_points} == {
        ("phone", mother.id),
        ("address", mother.id),
    }


def test_a_second_desk_that_was_quicker_is_noticed(store: Store) -> None:
    add_person(desk_at(store), ANN)

    with pytest.raises(Refused, match="N-1 Ann Ó Dálaigh"):
        add_person(desk_at(store, by="mina"), ANN)


def test_what_was_written_down_is_taken_back_whole(store: Store) -> None:
    desk = desk_at(store)
    add_person(desk, ANN)

    undo.undo(desk)

    assert find(desk, "dalaigh") == ()
    assert rows(store, tables.ContactPoint) == []
    assert add_person(desk, ANN).words.startswith("Written down as N-2.")
    assert history_is_whole(store)


@pytest.mark.parametrize(
    ("new", "says"),
    [
        (NewPerson(" ", "Ann", date(1948, 3, 7)), "family name is empty"),
        (NewPerson("Marsh", "", date(1948, 3, 7)), "given name is empty"),
        (NewPerson("Marsh", "Ann", date(2048, 3, 7)), "is ahead"),
        (NewPerson("Marsh", "Ann", date(1848, 3, 7)), "born in 1848"),
        (NewPerson("Marsh", "Ann", date(1948, 3, 7), nhs_number="9434765918"), "check digit"),
    ],
)
def test_what_cannot_be_is_refused(store: Store, new: NewPerson, says: str) -> None:
    with pytest.raises(InputError, match=says):
        add_person(desk_at(store), new)


def test_a_reference_that_is_taken_is_refused(store: Store) -> None:
    desk = known(store)
    with pytest.raises(Conflict, match="The reference W1 is taken"):
        add_person(desk, NewPerson("Tindall", "Joan", date(1990, 1, 1), ref="W1"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("ann marsh 7.3.1948", Said("Ann", "Marsh", date(1948, 3, 7), "")),
        ("Ó Dálaigh, Ann 01632 960456", Said("Ann", "Ó Dálaigh", None, "01632 960456")),
        ("marsh", Said("", "Marsh", None, "")),
        ("W1573", Said("", "", None, "")),
        ("", Said("", "", None, "")),
    ],
)
def test_what_was_searched_for_is_taken_apart(store: Store, text: str, said: Said) -> None:
    assert taken_apart(desk_at(store), text) == said
