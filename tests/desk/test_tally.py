"""The day's counts: the bare names they go by are those of the mapped tables."""

from __future__ import annotations

import pytest
from sqlalchemy import TableClause

from recall.desk import tally
from recall.records import tables


@pytest.mark.parametrize(
    "bare", [tally.FOLLOW_UPS, tally.PEOPLE, tally.REFERRALS, tally.VISITS], ids=lambda t: t.name
)
def test_bare_names_are_those_of_the_mapped_tables(bare: TableClause) -> None:
    mapped = tables.Base.metadata.tables[bare.name]

    for column in bare.columns:
        there = mapped.columns[column.name].type
        there = getattr(there, "impl_instance", there)
        assert column.name == "id" or column.type.python_type is there.python_type
