"""The register as it is made: keys, words, defaults, and what is said where it does not fit."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import inspect, select, text

from recall.errors import StorageError
from recall.records import tables
from recall.records.database.plain import by_session
from recall.records.database.store import Store, in_words
from recall.records.facts.candidates import last_change
from recall.records.facts.events import facts_for
from recall.records.facts.first_counts import first_counts
from recall.records.journal import history
from recall.records.ledger.storing import store_ledger
from recall.records.people.finding import find, rekey
from recall.records.tables.base import one_of
from tests.conftest import NOW
from tests.records.build import DAY, MADE, WHO, due, ledger, opens, person


@pytest.mark.parametrize("table", tables.Base.metadata.sorted_tables, ids=lambda t: t.name)
def test_the_key_of_a_table_is_the_one_the_register_has(store: Store, table: tables.Table) -> None:
    there = inspect(store.engine).get_pk_constraint(table.name)["constrained_columns"]

    assert [column.name for column in table.primary_key] == there


def test_a_column_of_words_holds_these_words() -> None:
    made = one_of("kind", ["phone", "e-mail"])

    assert str(made.sqltext) == "\"kind\" IN ('phone', 'e-mail')"
    assert made.name == "kind"


def test_what_is_left_out_of_a_row_is_the_first_round_and_the_first_home(store: Store) -> None:
    with store.write() as session:
        mine = {"person_id": person(session).id, **MADE}
        session.add(tables.Contact(channel="phone", outcome="no_answer", **mine))
        sent = {"step": "invitation", "kind": "invitation_child", "language": "en"}
        to = {"format": "standard", "to_name": "x", "to_lines": ("x",), "body": "x"}
        session.add(tables.Letter(**sent, **to, **mine))
    with store.read() as session:
        contact = session.scalars(select(tables.Contact)).one()
        letter = session.scalars(select(tables.Letter)).one()

    assert (contact.round, contact.step, contact.step_no, contact.by_them) == (1, "", 0, False)
    assert (letter.round, letter.home, letter.fields) == (1, 1, "{}")


@pytest.mark.parametrize("statement", ["SELECT x FROM nowhere", "SELECT unknown FROM person"])
def test_tables_that_do_not_fit_are_brought_up_to_date(store: Store, statement: str) -> None:
    with pytest.raises(StorageError) as said, in_words(), store.engine.connect() as connection:
        connection.execute(text(statement))

    assert str(said.value).startswith("The database does not have the tables")
    assert "makes a backup first" in (said.value.hint or "")


def test_the_last_change_is_an_instant_and_there_is_none_at_first(store: Store) -> None:
    with store.read() as session:
        assert last_change(session) is None
        assert first_counts(by_session(session), DAY).is_empty
    with store.write() as session:
        for days in (0, 2):
            history.append(session, 1, NOW + timedelta(days=days), "noted", "person", 1, now="x")
    with store.read() as session:
        assert last_change(session) == datetime(2026, 9, 3, 9, 0, tzinfo=UTC)


def test_only_a_mobile_number_takes_texts(store: Store) -> None:
    ways = {
        "phone": "+447700900123",
        "email": "+447700900123@example.org",
        "address": "+447 Elm Way",
    }
    with store.write() as session:
        numbers = {}
        for kind, value in ways.items():
            who = person(session, kind)
            session.add(
                tables.ContactPoint(person_id=who.id, kind=kind, raw=value, value=value, **MADE)
            )
            store_ledger(session, who.id, ledger(due()), WHO, opens)
            held = select(tables.FollowUp.id).where(tables.FollowUp.person_id == who.id)
            numbers[kind] = session.scalars(held).one()
        known = facts_for(session, list(numbers.values()))

    assert {kind: set(known[number].channels) for kind, number in numbers.items()} == {
        "phone": {"phone", "text"},
        "email": {"email"},
        "address": {"letter"},
    }


def found(store: Store, said: str) -> list[tuple[str, str]]:
    with store.read() as session:
        return [(each.ref, each.how) for each in find(session, said)]


def test_a_name_nearly_like_it_is_offered_only_where_nobody_else_is_found(store: Store) -> None:
    names = {"W1": "Weaver", "W2": "Wearer", "W3": "Dorwick", "W4": "Dorwicks"}
    with store.write() as session:
        born = date(1970, 1, 1)
        ids = [person(session, r, family_name=name, born=born).id for r, name in names.items()]
        rekey(session, ids)

    assert found(store, "weaver") == [("W1", "exact")]
    assert ("W2", "near") in found(store, "weayer")
    assert found(store, "dozbick") == []
    assert found(store, "dozbicks") == [("W4", "near")]
