"""A register past the program: all that it holds, the bytes it lies in, rows that no check saw."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from recall.records.database import servers

_ANY = {"integer": "1", "boolean": "true", "date": "'2026-09-01'", "timestamp": "'2026-09-01'"}
"""A value of each kind that is kept; of any other it is the text 1."""


def content(path: Path) -> bytes:
    """Return all that a register holds that nobody has open: any write to a row shows."""
    if not servers.address_of(path):
        return path.read_bytes()
    said = b""
    with _there(path) as there:
        named = "SELECT table_name FROM information_schema.tables WHERE table_schema = 'public'"
        for (name,) in there.execute(f"{named} ORDER BY 1").fetchall():
            order = f"COPY (SELECT xmin, * FROM {name} ORDER BY ctid) TO STDOUT"
            with there.cursor().copy(order) as rows:
                said += name.encode() + b"".join(map(bytes, rows))
    return said


def on_disk(path: Path) -> bytes:
    """Return the bytes in which a register lies, as whoever has the disk has them."""
    if not servers.address_of(path):
        return path.read_bytes()
    with _there(path) as there:
        there.execute("CHECKPOINT")
        wanted = "SELECT oid FROM pg_database WHERE datname = current_database()"
        ((number,),) = there.execute(wanted).fetchall()
    folder = Path(urlsplit(servers.address_of(path)).query.removeprefix("host="))
    files = sorted((folder / "data" / "base" / str(number)).iterdir())
    return b"".join(file.read_bytes() for file in files)


def add_unchecked(path: Path, table: str, needed: Sequence[str], person_id: int) -> None:
    """Add a row about somebody past every check, with something in each column that needs it."""
    columns = ", ".join(f'"{name}"' for name in ("person_id", *needed))
    if not servers.address_of(path):
        with closing(sqlite3.connect(path)) as there, there:
            there.execute("PRAGMA ignore_check_constraints = ON")
            values = ", ".join(["1"] * len(needed))
            there.execute(f'INSERT INTO "{table}" ({columns}) VALUES ({person_id}, {values})')
        return
    kinds = "SELECT column_name, data_type FROM information_schema.columns WHERE table_name"
    checks = "SELECT conname FROM pg_constraint WHERE contype = 'c' AND conrelid"
    with _there(path) as there:
        there.execute("SET session_replication_role = replica")  # links are not looked at
        for (check,) in there.execute(f"{checks} = '{table}'::regclass").fetchall():
            there.execute(f'ALTER TABLE {table} DROP CONSTRAINT "{check}"')
        kind_of = dict(there.execute(f"{kinds} = '{table}'").fetchall())
        values = ", ".join(_ANY.get(kind_of[name].split()[0], "'1'") for name in needed)
        there.execute(f"INSERT INTO {table} ({columns}) VALUES ({person_id}, {values})")


@contextmanager
def _there(path: Path) -> Iterator[Any]:
    """Give a connection to the server's database."""
    import psycopg

    address = servers.address_of(path).replace("+psycopg", "")
    with psycopg.connect(address, autocommit=True) as connection:
        yield connection
