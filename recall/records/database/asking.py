"""Asking a register in place a few plain questions, whether it is a file or on a server.

For what must be known of one that the program may not be able to open: where its history ends,
which tables it has, how many rows.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from recall.errors import StorageError
from recall.records.database import servers
from recall.records.database.files import opened

Asked = Callable[..., Sequence[Any]]
"""Gives the rows of a question in SQL and its values, each at a `?`."""
_OF_FILE = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
_OF_SERVER = "SELECT table_name FROM information_schema.tables WHERE table_schema = 'public'"


@contextmanager
def asked(path: Path) -> Iterator[Asked]:
    """Give what asks a register.

    Raises:
        sqlite3.Error: it cannot be read; of a server as well, which says so in other words.
    """
    if not servers.address_of(path):
        with opened(path, isolation_level=None, timeout=5) as connection:
            yield lambda sql, *values: connection.execute(sql, values).fetchall()
        return
    from recall.records.database.engine import desk_engine
    from recall.records.database.store import in_words

    engine = desk_engine(path)
    try:
        with in_words(), engine.connect() as there:
            yield lambda sql, *values: there.exec_driver_sql(
                sql.replace("?", "%s"), values or None
            ).all()
    except StorageError as error:
        raise sqlite3.OperationalError(str(error)) from None
    finally:
        engine.dispose()


def tables_of(path: Path, ask: Asked) -> set[str]:
    """Return the names of the tables of a register that is being asked."""
    return {row[0] for row in ask(_OF_SERVER if servers.address_of(path) else _OF_FILE)}
