"""What is counted before the register is opened, and who is refused then."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import msgspec
import pytest
from sqlalchemy import text

from recall.desk.core.session import Desk, staff_member
from recall.desk.core.staff_row import works_here
from recall.desk.oversight.counts import counts
from recall.desk.oversight.glance import at_once, glance
from recall.desk.practice.staff import mark_left
from recall.errors import NotFound, Refused
from recall.records.database.store import Store
from tests.desk.posting import child_with_fluid
from tests.desk.practice import PRACTICE, desk_at, later, with_files
from tests.desk.test_passwords import give


@pytest.fixture
def register(store: Store) -> Desk:
    """A register with somebody in it, two years on."""
    desk = desk_at(store, by="clara")
    child_with_fluid(desk)
    return later(with_files(desk, database=store.path), 700)


def test_the_file_alone_gives_what_the_open_register_counts(register: Desk) -> None:
    found = glance(register.config, register.today)
    assert found is not None and found.overdue == 1
    assert found == at_once(register.store, register.clock)
    whole = counts(register)
    assert (found.overdue, found.referrals) == (whole.overdue, whole.referrals)


@pytest.mark.parametrize("by", ["nobody-here", "rob"])
def test_a_name_that_may_not_act_is_refused_before_there_is_a_screen(
    register: Desk, by: str
) -> None:
    store, on = register.store, register.today
    mark_left(store, register.clock, "rob", on, by="clara")
    with pytest.raises(NotFound, match=f"There is no member of staff '{by}'|{by} left on"):
        glance(register.config, register.today, by)
    assert glance(register.config, register.today, "CLARA") is not None


def test_nobody_opens_the_desk_as_the_jobs(register: Desk) -> None:
    with pytest.raises(Refused, match="nightly is the name of the jobs, and nobody works"):
        glance(register.config, register.today, "nightly")
    with pytest.raises(Refused, match="is the name of the jobs"):
        works_here(staff_member(register.store, "nightly", register.today))


def test_nothing_is_counted_for_whoever_has_not_signed_in(register: Desk) -> None:
    give(register.store, "clara")
    assert glance(register.config, register.today, "nobody-here") is None


def test_what_is_wrong_with_a_register_is_left_to_its_opening(
    register: Desk, tmp_path: Path
) -> None:
    config = register.config
    gone = msgspec.structs.replace(config.files, database=tmp_path / "none.db")
    assert glance(msgspec.structs.replace(config, files=gone), register.today, "clara") is None
    with register.store.write() as session:
        session.execute(text("UPDATE alembic_version SET version_num = '0001'"))
    assert glance(config, register.today, "clara") is None


def test_a_day_that_has_gone_by_is_not_counted_by_what_stands_now(register: Desk) -> None:
    child_with_fluid(register, "W2")
    before = register.today - timedelta(days=1)
    assert PRACTICE.changeover.went_live is None
    assert glance(register.config, before) is None
