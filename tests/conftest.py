"""What all tests share: a register built by the migrations once, and copied for each test.

With `RECALL_TEST_DATABASE=postgres` it lies on a server of this run's own.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, create_engine
from sqlalchemy.dialects.postgresql.base import PGDialect
from sqlalchemy.dialects.sqlite.base import SQLiteDialect
from sqlalchemy.util import LRUCache

from recall.records.database import engine, on_server
from recall.records.database.store import Store, open_store
from recall.records.database.upgrade import upgrade
from recall.records.tables import Staff
from tests import registers
from tests.seeds import use_fixed_seed

use_fixed_seed()
gc.set_threshold(100_000, 20, 100)  # the suite keeps a lot: looked through seldom, a tenth faster

NOW = datetime(2026, 9, 1, 9, 0, tzinfo=UTC)


@pytest.fixture(scope="session", autouse=True)
def statements_compiled_once() -> Iterator[None]:
    """Let the engines of all tests share what they compiled; one process of a desk has one engine.

    A compiled statement belongs to a dialect object, of which each engine has its own.
    """
    shared = LRUCache(5000)

    def make(*args: Any, **settings: Any) -> Engine:
        made = create_engine(*args, **settings)
        made._compiled_cache = shared
        return made

    with pytest.MonkeyPatch.context() as patch:
        for dialect in (SQLiteDialect, PGDialect):
            patch.setattr(dialect, "__eq__", lambda own, other: type(own) is type(other))
            patch.setattr(dialect, "__hash__", lambda own: hash(type(own)))
        patch.setattr(engine, "create_engine", make)
        patch.setattr(on_server, "create_engine", make)
        yield


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what is about files, where the registers lie on a server."""
    gone = [one for one in items if registers.ON_SERVER and registers.is_of_files(one.nodeid)]
    if gone:
        config.hook.pytest_deselected(items=gone)
        items[:] = [one for one in items if one not in gone]


@pytest.fixture(scope="session", autouse=True)
def server() -> Iterator[None]:
    """The server of this run, where the registers of the tests lie on one."""
    with registers.server():
        yield


@pytest.fixture(autouse=True)
def no_database_left() -> Iterator[None]:
    """Take away what one test made on the server."""
    with registers.dropped_again():
        yield


@pytest.fixture(scope="session")
def empty_register(server: None, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty register, built by running the migrations, with four members of staff."""
    path = tmp_path_factory.mktemp("register") / "empty.db"
    registers.make(path)
    upgrade(path, at=NOW)
    store = open_store(path)
    with store.write() as session:
        session.add_all(
            [
                Staff(handle="clara", name="Clara Voss", role="clinical_lead", title="Audiologist"),
                Staff(handle="rob", name="Rob Tanner", role="reception"),
                Staff(handle="mina", name="Mina Okello", role="manager"),
                Staff(handle="nightly", name="Nightly run", role="jobs", is_job=True),
            ]
        )
    store.close()  # the last connection folds the write-ahead log into the file
    return path


@pytest.fixture
def register_path(empty_register: Path, tmp_path: Path) -> Path:
    """A register of this test's own."""
    path = tmp_path / "register.db"
    registers.copy(empty_register, path)
    return path


@pytest.fixture
def store(register_path: Path) -> Iterator[Store]:
    """This test's register, open."""
    opened = open_store(register_path)
    yield opened
    opened.close()
