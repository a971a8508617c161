"""Bulk rows are the same rows: every type, every default, in order, with their numbers."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from sqlalchemy import insert, select
from sqlalchemy.exc import IntegrityError

from recall.records import tables
from recall.records.database.bulk import insert_numbered, insert_rows
from recall.records.database.store import Store
from recall.records.tables.remembered import Remembered
from recall.records.tables.statements import table_of
from tests import registers
from tests.records.build import MADE

PERSON = tables.Person
FULL = {
    "ref": "A",
    "family_name": "Ó Súilleabháin [/b]",
    "born": date(2020, 2, 29),
    "needs": ("interpreter", "hearing loop"),
    "gp_may_be_told": False,
    "deceased_on": None,
    **MADE,
    "recorded_at": datetime(2026, 9, 1, 9, 30, 1, 25, tzinfo=UTC),
}


def test_a_row_in_bulk_is_the_row_one_by_one(store: Store) -> None:
    with store.write() as session:
        session.execute(insert(table_of(PERSON)).values(**FULL))
        insert_rows(session, PERSON, [{**FULL, "ref": "B"}])
        one, other = session.execute(select(table_of(PERSON)).order_by(PERSON.id)).mappings()
        assert {**one, "id": 0, "ref": ""} == {**other, "id": 0, "ref": ""}
        assert (other["version"], other["language"], other["needs"]) == (1, "en", FULL["needs"])


def test_numbers_come_back_in_the_order_of_the_rows(store: Store) -> None:
    with store.write() as session:
        refs = [f"P{n}" for n in range(5)]
        first = insert_numbered(session, PERSON, [{**FULL, "ref": "first"}])
        numbers = insert_numbered(session, PERSON, [{**FULL, "ref": ref} for ref in refs])
        held = dict(session.execute(select(PERSON.id, PERSON.ref)).all())
    assert [held[n] for n in (*first, *numbers)] == ["first", *refs]


def test_nothing_is_nothing(store: Store) -> None:
    with store.write() as session:
        insert_rows(session, PERSON, [])
        assert list(insert_numbered(session, PERSON, [])) == []


def test_an_instant_without_its_zone_is_refused(store: Store) -> None:
    naive = {**FULL, "recorded_at": datetime(2026, 9, 1, 9, 0)}
    with pytest.raises(ValueError, match="time zone"), store.write() as session:
        insert_rows(session, PERSON, [naive])


def test_constraints_hold_and_nothing_of_a_refused_batch_stays(store: Store) -> None:
    with pytest.raises(IntegrityError), store.write() as session:
        insert_rows(session, PERSON, [FULL, FULL])
    with store.read() as session:
        assert session.scalars(select(PERSON.id)).all() == []


def test_what_all_rows_have_stands_in_each_of_them(store: Store) -> None:
    mine = {name: FULL[name] for name in FULL if name not in MADE}
    with store.write() as session:
        insert_rows(session, PERSON, [{**FULL, "ref": "B"}])
        made = {**MADE, "recorded_at": FULL["recorded_at"]}
        (number,) = insert_numbered(session, PERSON, [{**mine, "ref": "C"}], made)
        one, other = session.execute(select(table_of(PERSON)).order_by(PERSON.id)).mappings()
        assert {**one, "id": 0, "ref": ""} == {**other, "id": 0, "ref": ""}
        assert (other["id"], other["ref"]) == (number, "C")


def test_what_is_remembered_is_made_once_and_never_too_much_of_it() -> None:
    made: list[int] = []

    def twice(value: int) -> int:
        made.append(value)
        return 2 * value

    known = Remembered(twice)
    assert [known[value] for value in (3, None, 3, None)] == [6, None, 6, None]
    assert made == [3]

    every = range(25_000)
    assert [known[value] for value in every] == [2 * value for value in every]
    assert len(known) < 10_002
    assert known[None] is None


WORDS = ["O'Hara", "", "Ó [/b]", "two\nlines", 'a "b" ?', "%s :on"]
"""And the character 0, which no server keeps in a text."""


@pytest.mark.parametrize("word", WORDS if registers.ON_SERVER else [*WORDS, "nul\0l"])
def test_what_all_rows_share_is_the_same_however_it_is_written(store: Store, word: str) -> None:
    plain = {name: FULL[name] for name in FULL if name not in ("gp_may_be_told", "sex")}
    with store.write() as session:
        for ref in "AB":
            session.execute(insert(table_of(PERSON)).values(**{**plain, "ref": ref, "gp": word}))
        rows = [{**plain, "ref": ref} for ref in "CD"]
        insert_rows(session, PERSON, rows, {"gp": word})
        insert_rows(session, PERSON, [{**row, "ref": row["ref"] * 2, "gp": word} for row in rows])
        held = session.execute(select(table_of(PERSON)).order_by(PERSON.id)).mappings()
        assert len({str({**row, "id": 0, "ref": ""}) for row in held}) == 1


def test_an_error_names_nobody(store: Store) -> None:
    twice = [{**FULL, "gp": "Dr Quill"}] * 2
    with pytest.raises(IntegrityError) as caught, store.write() as session:
        insert_rows(session, PERSON, twice)
    assert "Quill" not in str(caught.value) and "leabh" not in str(caught.value)


def test_rows_that_share_everything_are_still_so_many(store: Store) -> None:
    made = {**MADE, "content": "{}", "person_id": 1}
    with store.write() as session:
        insert_rows(session, PERSON, [FULL])
        insert_rows(session, tables.UnderCare, [made, made, made])
        assert len(session.scalars(select(tables.UnderCare.id)).all()) == 3
