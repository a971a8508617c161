"""A desk opened for a practice that cannot do everything, and a register planned before that."""

from __future__ import annotations

from datetime import date, timedelta

from msgspec.structs import replace

from recall import config
from recall.clock import Clock
from recall.desk.core.replanning import Replanned, mark_everybody, replan
from recall.desk.core.session import Desk, open_desk
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import DAY, FLUID, PRACTICE, desk_at, rows, somebody, visit

WITH_LOSS = replace(FLUID, hearing_dB={"500": 30, "1000": 35, "2000": 30, "4000": 35})


def opened(store: Store, since: date, on: date = DAY) -> Desk:
    """Return the desk of a practice that tests nobody's hearing from a day on."""
    wanted = config.Config(
        practice=PRACTICE.practice,
        files=config.Files(database=store.path),
        capabilities=config.Capabilities(since=since, audiometry_from_age=99),
    )
    return open_desk(wanted, by="rob", clock=Clock.at(on))


def to_audiology(store: Store) -> list[str]:
    found = rows(store, tables.Referral, is_open=True, to="paediatric_audiology")
    return [row["to"] for row in found]


def test_a_test_that_cannot_be_done_here_is_stored_as_a_referral(store: Store) -> None:
    desk = opened(store, DAY)
    visit(desk, somebody(desk), right=WITH_LOSS)

    assert to_audiology(store) == ["paediatric_audiology"]
    assert "hearing" not in {row["track"] for row in rows(store, tables.Due)}
    desk.close()


def test_a_register_planned_before_that_day_stays_as_it_was(store: Store) -> None:
    before = desk_at(store)
    person = somebody(before)
    visit(before, person, right=WITH_LOSS)
    was = rows(store, tables.Due), rows(store, tables.Referral)
    desk = opened(store, DAY + timedelta(days=1), DAY + timedelta(days=1))
    mark_everybody(desk)

    assert replan(desk) == Replanned(1, 0, 0)
    assert (rows(store, tables.Due), rows(store, tables.Referral)) == was
    visit(desk, person, right=WITH_LOSS)
    assert to_audiology(store) == ["paediatric_audiology"]
    desk.close()
