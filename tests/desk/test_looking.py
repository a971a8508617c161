"""Who opened whose record is written down, where everybody signs in, and nowhere else."""

from __future__ import annotations

import inspect
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import update

from recall.desk.core.guarding import ASKED
from recall.desk.core.looking import LOOKS
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.people.looked_at import who_looked
from recall.desk.people.person_card import person
from recall.desk.people.timeline import timeline
from recall.errors import NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store
from recall.records.tables.statements import table_of
from tests.desk.practice import desk_at, rows, somebody
from tests.desk.test_rights import EVERY

NO_RECORD = {
    "people.whose.whose": "name, birth date and reference, to head what follows",
    "people.correcting.effect_of": "dates that another birth date would move, on the open sheet",
    "people.looked_at.who_looked": "who looked, not what there is",
    "visits.emergencies.arranged": "services alone, asked while their visit is being closed",
}
"""Functions that take a reference and show no record; reviewed by hand."""


@pytest.fixture
def desk(store: Store) -> Desk:
    """Somebody who signed in, at a screen, and a child in the register."""
    made = replace(desk_at(store, by="mina"), is_signed=True, place="screen")
    somebody(made)
    return made


def test_every_function_that_shows_a_record_writes_it_down() -> None:
    shows = {
        name
        for name, function in EVERY.items()
        if list(inspect.signature(inspect.unwrap(function)).parameters)[1:2]
        in (["ref"], ["reference"])
        and getattr(function, ASKED) in (Right.LOOK, Right.SEE_LOOKS)
    }
    marked = {name for name in shows if hasattr(EVERY[name], LOOKS)}
    assert shows - marked == NO_RECORD.keys()
    assert len(marked) >= 6


def test_who_when_and_from_where(desk: Desk) -> None:
    before = datetime.now(UTC)
    person(desk, "W1")
    timeline(replace(desk, place="command"), "W1")
    looks = who_looked(desk, "W1")
    assert [(each.by, each.role, each.place) for each in looks] == [
        ("mina", "manager", "screen"),
        ("mina", "manager", "command"),
    ]
    assert all(before <= each.at <= datetime.now(UTC) for each in looks), "the machine's instant"


def test_within_ten_minutes_it_is_one_look(desk: Desk) -> None:
    person(desk, "W1")
    timeline(desk, "W1")
    assert len(who_looked(desk, "W1")) == 1
    with desk.store.write() as session:
        earlier = datetime.now(UTC) - timedelta(minutes=11)
        session.execute(update(table_of(tables.Looked)).values(at=earlier))
    person(desk, "W1")
    assert len(who_looked(desk, "W1")) == 2


def test_where_a_name_is_believed_nothing_is_written(desk: Desk) -> None:
    person(replace(desk, is_signed=False), "W1")
    assert rows(desk.store, tables.Looked) == []


def test_who_is_not_there_was_not_looked_at(desk: Desk) -> None:
    with pytest.raises(NotFound):
        person(desk, "W77")
    assert rows(desk.store, tables.Looked) == []


def test_a_register_that_cannot_be_written_is_still_read(desk: Desk) -> None:
    newer = replace(desk, store=replace(desk.store, is_newer=True))
    assert person(newer, "W1").ref == "W1"
    ahead = replace(desk, store=replace(desk.store, ahead="2 September 2026"))
    person(ahead, "W1")
    assert len(who_looked(desk, "W1")) == 1, "a day to come is looked at today"


def test_reception_does_not_see_who_looked(desk: Desk) -> None:
    with pytest.raises(Refused):
        who_looked(desk_at(desk.store, by="rob"), "W1")
