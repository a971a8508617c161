"""What the benchmarks that read share: their floor, and what something takes beside it."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterable
from contextlib import closing
from pathlib import Path


def scan(path: Path, tables: Iterable[str]) -> float:
    """Fetch every row of some tables by the driver alone; return the seconds that it takes."""
    with closing(sqlite3.connect(path)) as connection:
        start = time.process_time()
        for table in tables:
            for _row in connection.execute(f'SELECT * FROM "{table}"'):
                pass
        return time.process_time() - start


def timed(does: Callable[[], object]) -> float:
    """Return the seconds of processor that something takes."""
    start = time.process_time()
    does()
    return time.process_time() - start
