"""Whether anybody else has a register open: what replaces it would be written past by them."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from recall.errors import Refused
from recall.records.database import servers
from recall.records.database.asking import asked
from recall.records.database.files import opened

OPEN = "A desk or a job has the register open."
CLOSE = "Nothing was changed; close them all, then repeat."
_OTHERS = (
    "SELECT count(*) FROM pg_stat_activity"
    " WHERE datname = current_database() AND pid != pg_backend_pid() AND backend_type = "
    "'client backend'"
)


def refuse_open(place: Path) -> None:
    """Refuse while somebody has a register open.

    A file is taken out of write-ahead logging, which SQLite lets only its last user do (SQLite:
    "Write-Ahead Logging", section 3.1); a server tells who is there ("pg_stat_activity").

    Raises:
        Refused: a desk or a job has it open.
    """
    if servers.address_of(place):
        with asked(place) as ask:
            is_open = bool(ask(_OTHERS)[0][0])
    else:
        is_open = _is_locked(place)
    if is_open:
        raise Refused(OPEN, hint=CLOSE)


def _is_locked(place: Path) -> bool:
    try:
        with opened(place, timeout=1) as connection:
            connection.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.OperationalError as error:
        if "locked" in str(error):
            return True
        raise
    return False
