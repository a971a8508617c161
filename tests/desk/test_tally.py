"""The day's counts: the bare names they go by are those of the mapped tables."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from sqlalchemy import TableClause

from recall.clock import Clock
from recall.desk.worklists import call_card, counts
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, KERATIN, desk_at, later, rows, somebody, visit


@pytest.mark.parametrize(
    "bare",
    [counts.FOLLOW_UPS, counts.PEOPLE, counts.REFERRALS, counts.VISITS],
    ids=lambda t: t.name,
)
def test_bare_names_are_those_of_the_mapped_tables(bare: TableClause) -> None:
    mapped = tables.Base.metadata.tables[bare.name]

    for column in bare.columns:
        there = mapped.columns[column.name].type
        there = getattr(there, "impl_instance", there)
        assert column.name == "id" or column.type.python_type is there.python_type


def test_people_are_counted_once_and_follow_ups_each(store: Store) -> None:
    desk = desk_at(store)
    for ref, ears in (("W1", {"left": KERATIN}), ("W2", {"right": FLUID, "left": KERATIN})):
        visit(desk, somebody(desk, ref), **ears)
    then = later(desk, 60)

    found, closer = counts.tally(store, then.today), call_card.to_reach(then)

    open_ones = {r["id"]: r["person_id"] for r in rows(store, tables.FollowUp, is_open=True)}
    listed = call_card.order(then)
    assert found.queue == len(listed) == 3
    assert closer.people == len({open_ones[number] for number in listed}) == 2
    before = replace(desk, clock=Clock.at(date(2026, 8, 1)))
    assert call_card.to_reach(before).people == 0
