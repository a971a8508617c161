"""A desk with a letters folder of its own, and a child whose invitation is due."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from recall.desk.core.session import Desk
from recall.records.database.store import Store, open_store
from tests import registers
from tests.desk.posting import child_with_fluid, first_letter_day, on
from tests.desk.practice import FLUID, desk_at, open_follow_ups, somebody, visit, with_files
from tests.desk.whole_practice import at_desk, fill, work


@pytest.fixture
def desk(store: Store, tmp_path: Path) -> Desk:
    return with_files(desk_at(store, by="clara"), letters=tmp_path / "letters", database=store.path)


@pytest.fixture
def due(desk: Desk) -> Iterator[tuple[Desk, int]]:
    """A child whose invitation is due, on its day."""
    person = child_with_fluid(desk)
    yield on(desk, first_letter_day(desk, person)), person


@pytest.fixture
def follow_up(store: Store) -> dict:
    """A child with fluid behind one drum, a day after the visit."""
    desk = desk_at(store)
    person_id = somebody(desk)
    visit(desk, person_id, right=FLUID)
    return dict(open_follow_ups(store, person_id)[0])


@pytest.fixture(scope="session")
def worked(empty_register: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A practice of two dozen people after a Monday's work: made once."""
    folder = tmp_path_factory.mktemp("whole")
    registers.copy(empty_register, folder / "register.db")
    store = open_store(folder / "register.db")
    desk = at_desk(store, folder)
    fill(desk, folder)
    work(desk)
    store.close()
    return folder


@pytest.fixture
def whole(worked: Path, tmp_path: Path) -> Iterator[Desk]:
    """Reception's desk at that practice, in a copy of this test's own."""
    folder = tmp_path / "whole"
    shutil.copytree(worked, folder)
    registers.copy(worked / "register.db", folder / "register.db")
    store = open_store(folder / "register.db")
    yield at_desk(store, folder)
    store.close()
