"""A register that tests write from what the migrations made is the register they make."""

from __future__ import annotations

from pathlib import Path

from recall.records.database.upgrade import upgrade
from tests.conftest import NOW
from tests.records.test_migrations import DRAWN, contents, shape
from tests.stepped_once import stepped_once


def test_the_second_is_made_like_the_first(tmp_path: Path) -> None:
    first, second, migrated = (tmp_path / name for name in ("1.db", "2.db", "migrated.db"))
    upgrade(migrated, at=NOW)
    with stepped_once():
        upgrade(first, at=NOW)
        upgrade(second, at=NOW)

    held = [contents(path) for path in (migrated, first, second)]
    marks = {str(rows.pop(DRAWN)[0]["mark"]) for rows in held}
    assert held[0] == held[1] == held[2]
    assert shape(migrated) == shape(first) == shape(second)
    assert len(marks) == 3  # each register is told from every other
