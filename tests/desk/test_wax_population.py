"""A fit that comes late is for visits to come: what was planned before it stays as it is."""

from __future__ import annotations

from datetime import timedelta

import pytest

from recall.cycle.population import Fit, Population
from recall.desk.core.session import populations
from recall.desk.plans.wax_population import keep_population
from recall.records.database.store import Store
from tests.desk.practice import CLEAR, DAY, desk_at, later, somebody, visit


@pytest.mark.parametrize(
    ("fitted", "seen", "stands_from"),
    [(0, -1, 0), (0, 0, 4), (0, 2, 4), (3, 2, 3)],
    ids=["before any visit", "on a day with visits", "late", "on its own day"],
)
def test_a_fit_is_never_for_visits_that_were_planned_before_it(
    store: Store, fitted: int, seen: int, stands_from: int
) -> None:
    """The job comes three days after the first day, whatever day it was meant for."""
    desk = desk_at(store, by="clara")
    visit(later(desk, seen), somebody(desk), right=CLEAR)
    day = DAY + timedelta(days=fitted)
    told = {"shape": 1.0, "scale_days": 250.0, "frailty": 0.8, "people": 60, "spells": 200}
    with store.write() as session:
        assert keep_population(later(desk, 3), session, Fit(Population(fitted_on=day, **told)))

    (kept,) = populations(store)
    assert kept.fitted_on == DAY + timedelta(days=stands_from)
