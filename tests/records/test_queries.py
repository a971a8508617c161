"""Lists ask by the search columns, through partial indexes, and count the same rows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import Select, text
from sqlalchemy.dialects import sqlite

from recall.records.database.store import Store
from recall.records.facts import queries
from recall.records.ledger.storing import store_ledger
from recall.records.tables import Visit
from tests.records.build import DAY, WHO, closing, due, ledger, opens, person, referral, visit


@pytest.fixture
def register(store: Store) -> Iterator[Store]:
    """Thirty people with a due each, a week apart, every tenth urgent; ten with a referral."""
    with store.write() as session:
        for number in range(30):
            who = person(session, f"W{number:03}")
            asked = due(
                asked_on=DAY + timedelta(weeks=number),
                urgency="urgent" if number % 10 == 0 else "medium",
            )
            sent = (referral(asked.asked_on),) if number % 3 == 0 else ()
            store_ledger(session, who.id, ledger(asked, referrals=sent), WHO, opens)
    return store


def test_what_is_to_do_is_listed_most_pressing_first(register: Store) -> None:
    on = DAY + timedelta(weeks=12)
    with register.read() as session:
        rows = queries.to_do(session, on)

    assert all(row.next_step_on and row.next_step_on <= on for row in rows)
    order = [(row.urgency_rank, row.latest, row.id) for row in rows]
    assert order == sorted(order)
    assert [row.ref for row in rows[:3]] == ["W000", "W010", "W001"]


def test_what_is_late_is_past_its_latest_day(register: Store) -> None:
    on = due().latest + timedelta(days=1)
    with register.read() as session:
        assert [row.ref for row in queries.late(session, on)] == ["W000"]
        assert queries.late(session, due().latest) == ()


def test_counts_are_those_of_the_lists(register: Store) -> None:
    on = DAY + timedelta(weeks=15)
    with register.read() as session:
        told = queries.counts(session, on)

        assert told.to_do == len(queries.to_do(session, on))
        assert told.late == len(queries.late(session, on))
        assert told.to_chase == len(queries.to_chase(session, on))
    assert (told.open_follow_ups, told.open_referrals) == (30, 10)


def test_one_persons_open_follow_ups_are_listed(register: Store) -> None:
    with register.read() as session:
        assert [row.person_id for row in queries.open_for(session, 7)] == [7]


def test_a_past_day_shows_what_stood_then(store: Store) -> None:
    """Closed since, it still stood on the day asked for; before it was asked it did not."""
    later = DAY + timedelta(weeks=6)
    with store.write() as session:
        who = person(session)
        store_ledger(session, who.id, ledger(due()), WHO, opens)
        done = ledger(closings=(closing(due(), later),))
        store_ledger(session, who.id, done, replace(WHO, on=later), opens)

    with store.read() as session:
        stood = {
            day: queries.stood_on(session, day)
            for day in (DAY - timedelta(days=1), DAY, later - timedelta(days=1), later)
        }
    assert list(stood.values()) == [(), (1,), (1,), ()]


def test_a_follow_up_of_an_unconfirmed_import_says_so(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        seen = visit(session, who.id)
        seen.source = "imported"
        store_ledger(session, who.id, ledger(due()), WHO, opens)

        before = queries.open_for(session, who.id)[0].is_confirmed
        assert queries.unconfirmed(session) == (seen.id,)
        row = session.get_one(Visit, seen.id)
        row.confirmed_at, row.confirmed_by_id = WHO.at, 1
        session.flush()
        after = queries.open_for(session, who.id)[0].is_confirmed

    assert (before, after) == (False, True)


@pytest.mark.parametrize(
    ("wanted", "index"),
    [
        (queries.to_do_select(DAY), "ix_follow_up_queue"),
        (queries.late_select(DAY), "ix_follow_up_late"),
        (queries.at_step_select("decision", DAY), "ix_follow_up_step"),
        (queries.to_chase_select(DAY), "ix_referral_chase"),
    ],
)
@pytest.mark.parametrize("analysed", [False, True])
def test_each_list_goes_through_its_partial_index(
    register: Store, wanted: Select[Any], index: str, analysed: bool
) -> None:
    statement = wanted.limit(50).compile(
        dialect=sqlite.dialect(), compile_kwargs={"literal_binds": True}
    )
    with register.write() as session:
        if analysed:
            session.execute(text("ANALYZE"))
        plan = [row[3] for row in session.execute(text(f"EXPLAIN QUERY PLAN {statement}"))]

    assert any(index in step for step in plan), plan
    assert not any(step.startswith("SCAN") for step in plan), plan
