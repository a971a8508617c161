"""Statements whose types can be followed: what is read, and what a write refuses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pytest
from sqlalchemy import Row, inspect, select, update

from recall.records import tables
from recall.records.database.store import Store
from recall.records.tables.statements import (
    IDS,
    many,
    many_of,
    read_as,
    table_of,
    whole,
)
from tests.records.build import person


@dataclass(frozen=True)
class _Name:
    id: int
    family_name: str


@dataclass(frozen=True)
class _Label:
    id: int
    family_name: str


@pytest.fixture
def marsh(store: Store) -> Store:
    with store.write() as session:
        person(session)
    return store


def test_a_whole_row_cannot_be_changed_and_stays_as_it_was_read(marsh: Store) -> None:
    with marsh.write() as session:
        wanted = select(whole(tables.Person))
        before = session.scalars(wanted).one()
        with pytest.raises(AttributeError):
            before.family_name = "Fenwick"
        session.execute(update(table_of(tables.Person)).values(family_name="Fenwick"))
        after = session.scalars(wanted).one()
    assert (before.family_name, after.family_name) == ("Marsh", "Fenwick")
    assert before.born == date(2018, 3, 2)


def test_no_column_hides_behind_a_method_of_a_row() -> None:
    mappers = tables.Base.registry.mappers
    named = [(m.class_.__name__, c.key) for m in mappers for c in inspect(m).column_attrs]
    assert len(named) > 300
    assert [(table, key) for table, key in named if hasattr(Row, key)] == []


def test_two_views_of_the_same_columns_are_each_read_as_themselves(marsh: Store) -> None:
    with marsh.read() as session:
        name = session.scalars(select(read_as(_Name, tables.Person))).one()
        label = session.scalars(select(read_as(_Label, tables.Person))).one()
    assert (name, label) == (_Name(1, "Marsh"), _Label(1, "Marsh"))


def test_a_view_takes_what_no_table_has_from_what_is_said(marsh: Store) -> None:
    with marsh.read() as session:
        view = read_as(_Name, tables.Visit, family_name=tables.Person.title + "Told")
        with pytest.raises(AttributeError, match="family_name"):
            read_as(_Name, tables.Visit)
        join = tables.Person.id == tables.Visit.person_id
        wanted = select(view).join_from(tables.Person, tables.Visit, join, isouter=True)
        assert session.scalars(wanted).one() == _Name(None, "Told")  # type: ignore[arg-type]


def test_many_rows_are_the_same_as_rows_one_by_one(marsh: Store) -> None:
    with marsh.read() as session:
        wanted = select(tables.Person.id, tables.Person.born)
        assert many(session, wanted) == session.execute(wanted).all()
        one = session.scalars(select(whole(tables.Person))).one()
        made = select(table_of(tables.Person)).where(tables.Person.id.in_(IDS))
        assert many_of(session, tables.Person, made, [1]) == [one]
        assert many_of(session, tables.Person, made, [2]) == []
