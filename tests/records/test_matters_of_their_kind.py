"""Errands that were an answer or a visit to type become matters of that kind, and errands again."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import text

from recall.records.database import where
from recall.records.database.engine import migration_engine
from recall.records.database.store import open_store
from recall.records.database.upgrade import move, upgrade
from recall.records.tables import Matter
from tests.conftest import NOW

DAY = date(2026, 9, 1)
BEFORE = "0021"
TOLD = (
    ("errand", "Tell them: Not before the ear is dry.", "done"),
    ("errand", "Type the visit of 29 February 2028: they came, and nothing is open.", None),
    ("errand", "Type the visit of her brother, too.", None),
    ("errand", "Order paper.", "not_needed"),
    ("message", "Tell them: what?", None),
)


def put_in(register_path: Path) -> None:
    """Write the matters as the program did before."""
    engine = migration_engine(register_path)
    with engine.begin() as connection:
        for kind, words, how in TOLD:
            values = {"kind": kind, "text": words, "how": how, "day": DAY if how else None}
            values |= {"by": 1 if how else None, "open": how is None, "on": DAY, "at": str(NOW)}
            connection.execute(
                text(
                    "INSERT INTO matter (kind, text, owner_role, due_on, is_open, closed_on, "
                    'closed_by_id, closed_how, closed_text, version, "on", recorded_at, by_id) '
                    "VALUES (:kind, :text, 'reception', :on, :open, :day, :by, :how, '', 1, :on, "
                    ":at, 1)"
                ),
                values,
            )
    engine.dispose()


def told(register_path: Path) -> list[tuple[object, ...]]:
    engine = migration_engine(register_path)
    with engine.connect() as connection:
        wanted = text("SELECT kind, text, closed_how FROM matter ORDER BY id")
        found = [tuple(row) for row in connection.execute(wanted)]
    engine.dispose()
    return found


@pytest.fixture
def path(register_path: Path) -> Path:
    """A register that held such errands, and was upgraded."""
    move(register_path, BEFORE)
    put_in(register_path)
    upgrade(register_path, at=NOW)
    return register_path


def test_what_an_errand_began_with_becomes_its_kind(path: Path) -> None:
    store = open_store(path)
    with store.read() as session:
        found = [(m.kind, m.text, m.visit_on) for m in session.query(Matter).order_by(Matter.id)]
    store.close()
    assert found == [
        ("answer", "Not before the ear is dry.", None),
        ("untyped_visit", TOLD[1][1], date(2028, 2, 29)),
        *((kind, words, None) for kind, words, _how in TOLD[2:]),
    ]


def test_a_step_back_makes_errands_of_them_again(path: Path) -> None:
    engine = migration_engine(path)
    with engine.begin() as connection:
        connection.execute(text("UPDATE matter SET closed_how = 'none_to_type' WHERE id = 1"))
    engine.dispose()

    move(path, BEFORE)

    kept = [(kind, words, "not_needed" if n == 0 else how)
            for n, (kind, words, how) in enumerate(TOLD)]  # fmt: skip
    assert told(path) == kept
    assert where.REVISIONS.index(BEFORE) < where.REVISIONS.index(where.HEAD)
