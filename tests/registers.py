"""Registers for tests: files, or databases on a server of this run's own."""

from __future__ import annotations

import os
import shutil
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from urllib.parse import urlsplit

from recall.records.database import servers
from recall.records.database.backup import make_backup
from tests import database_server

ON_SERVER = os.environ.get("RECALL_TEST_DATABASE") == "postgres"
ONLY_FILES = tomllib.loads(Path(__file__).with_name("only_files.toml").read_text("utf-8"))
"""Which tests are about a file by its nature."""
_addresses: list[str] = []
_made: list[str] = []
_numbers = count(1)


def is_of_files(test: str) -> bool:
    """Return whether a test is left out where the registers lie on a server."""
    return any(test.startswith(name) for some in ONLY_FILES.values() for name in some)


@contextmanager
def server() -> Iterator[None]:
    """Start the server where the registers are to lie on one."""
    if not ON_SERVER:
        yield
        return
    with database_server.served() as address:
        _addresses.append(address)
        yield
        _addresses.pop()


def make(path: Path, how: str = "") -> None:
    """Make an empty database for a register, where it is to lie on the server."""
    if ON_SERVER:
        _create(path, f"template0 {how}")


def address_of_none() -> str:
    """Return an address on the server at which there is no database."""
    return _addresses[-1].format("no_such_database")


def copy(source: Path, target: Path) -> None:
    """Copy a register that nobody has open."""
    if not servers.address_of(source):
        shutil.copyfile(source, target)
        return
    _create(target, urlsplit(servers.address_of(source)).path.strip("/"))


def as_file(path: Path) -> Path:
    """Return a register as a file that can be read beside the program: a backup of a server's."""
    if not servers.address_of(path):
        return path
    folder = path.parent / f"as-file-{next(_numbers)}"
    return make_backup(path, folder, datetime.now(UTC)).path


def _create(path: Path, template: str) -> None:
    name = f"r{next(_numbers)}"
    _tell(f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY = FILE_COPY")
    servers.use(_addresses[-1].format(name), path)
    _made.append(name)


@contextmanager
def dropped_again() -> Iterator[None]:
    """Drop what is made meanwhile."""
    had = len(_made)
    yield
    while len(_made) > had:
        _tell(f"DROP DATABASE {_made.pop()} WITH (FORCE)")


def _tell(order: str) -> None:
    import psycopg

    address = _addresses[-1].format("postgres").replace("+psycopg", "")
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(order)
