"""What was grouped stays together while its dues do, whatever becomes of the calendar."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from recall.care.ear import Side
from recall.records import tables
from recall.records.database.store import Store
from recall.records.ledger.storing import Sharing, store_ledgers
from recall.schedule.plan import Due
from tests.records.build import WHO, due, ledger, opens, person


@pytest.mark.parametrize("ear", ["right", "left"])
def test_a_holiday_entered_later_takes_no_group_apart(store: Store, ear: Side) -> None:
    """Grouped by the calendar of the day the plan was made, until the dues change."""
    first = due(latest=due().target)
    second = due(ear="left", track="wax", earliest=due().target - timedelta(days=6))
    third = due(ear=ear, track="hearing", earliest=second.earliest, latest=second.latest)
    with store.write() as session:
        who = person(session)

        def grouped(closed: int, *asked: Due) -> list[tables.FollowUp]:
            """Plan with the first of the common days closed."""
            shut = [second.earliest + timedelta(days=n) for n in range(closed)]
            days = {who.id: ledger(*asked)}
            store_ledgers(session, days, WHO, opens, sharing=Sharing(lambda d: d not in shut))
            return [f for f in session.scalars(select(tables.FollowUp)) if f.is_open]

        assert [set(f.tracks) for f in grouped(0, first, second)] == [{"fluid", "wax"}]
        (left,) = grouped(6, first, second)
        assert (set(left.tracks), left.version) == ({"fluid", "wax"}, 1)
        assert {"fluid"} in [set(f.tracks) for f in grouped(6, first, second, third)]
