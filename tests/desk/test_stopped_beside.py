"""Who shares a number or an adult's address with somebody who may not be contacted is warned of."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import update

from recall.desk.core.session import Desk
from recall.desk.people import person_card
from recall.records import tables
from tests.desk.posting import object_, unsafe
from tests.desk.practice import rows, somebody

HERE = "On this number or at this address: W1 "


def kept_apart(desk: Desk, person: int, **others: str) -> None:
    """Give somebody other ways than those of everybody here: what is named, by kind."""
    with desk.store.write() as session:
        table = tables.ContactPoint.__table__
        for kind, value in others.items():
            mine = table.c.person_id == person, table.c.kind == kind
            session.execute(update(table).where(*mine).values(value=value))


def warned(desk: Desk, ref: str = "W2") -> list[str]:
    return [w for w in person_card.person(desk, ref).warnings if w.startswith("On this")]


def two(desk: Desk, **apart: str) -> int:
    """Two children of one mother; return the first. The second has some ways of their own."""
    first = somebody(desk)
    kept_apart(desk, somebody(desk, "W2"), **apart)
    return first


@pytest.mark.parametrize(
    ("apart", "is_warned"),
    [
        ({}, True),
        ({"phone": "+441632960999"}, True),
        ({"address": "9 Sedge Lane"}, True),
        ({"phone": "+441632960999", "address": "9 Sedge Lane"}, False),
    ],
    ids=["both", "address alone", "number alone", "neither"],
)
def test_a_shared_number_or_adults_address_is_warned_of(
    desk: Desk, apart: dict[str, str], is_warned: bool
) -> None:
    unsafe(desk, two(desk, **apart))
    says = [f"{HERE}is not safe to contact (1 September 2026)."]
    assert warned(desk) == (says if is_warned else [])
    assert warned(desk, "W1") == []


def test_an_address_of_ones_own_is_no_shared_one(desk: Desk) -> None:
    first = somebody(desk, adult=False)
    kept_apart(desk, somebody(desk, "W2", adult=False), phone="+441632960999")
    unsafe(desk, first)
    assert warned(desk) == []


def test_an_email_address_says_nothing_aloud(desk: Desk) -> None:
    first = two(desk, phone="+441632960999", address="9 Sedge Lane")
    with desk.store.write() as session:
        table = tables.ContactPoint.__table__
        session.execute(
            update(table).where(table.c.kind == "address").values(kind="email", value="i@x.org")
        )
    unsafe(desk, first)
    assert warned(desk) == []


def test_who_objected_is_told_and_who_died_is_not(desk: Desk) -> None:
    first = two(desk)
    object_(desk, first)
    assert warned(desk) == [f"{HERE}asked not to be contacted (1 September 2026)."]
    changed: dict[str, Any] = {"deceased_on": desk.today}
    with desk.store.write() as session:
        table = tables.Person.__table__
        session.execute(update(table).where(table.c.id == first).values(**changed))
    assert warned(desk) == []
    assert len(rows(desk.store, tables.Person)) == 2
