"""No option of a command and no day sets an instant; a made-up time opens no real register."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from recall.cli.main import main
from recall.clock import INVENTED, Clock
from recall.errors import StorageError
from recall.records import tables
from recall.records.database.store import Store, mark_invented
from recall.records.tables.base import UtcDateTime
from tests.desk.practice import FLUID, desk_at, open_follow_ups, somebody, visit


@pytest.fixture
def config(store: Store, tmp_path: Path) -> Path:
    """A practice with one child to be called."""
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID)
    path = tmp_path / "recall.toml"
    files = f'[files]\ndatabase = "{store.path.as_posix()}"\n'
    practice = """[practice]
name = "Wrenfield Ear Care"
address = ["4 Larkspur Yard", "Wrenfield"]
postcode = "WR9 9ZZ"
phone = "01632 960123"
"""
    path.write_text(practice + files)
    return path


def instants(store: Store) -> set[datetime]:
    """Every instant that stands in the register."""
    found: set[datetime] = set()
    with store.read() as session:
        for table in tables.Base.metadata.tables.values():
            for column in table.c:
                if isinstance(column.type, UtcDateTime):
                    found |= set(session.scalars(select(column).where(column.is_not(None))))
    return found


def test_a_contact_for_an_earlier_day_is_recorded_now(store: Store, config: Path) -> None:
    number = open_follow_ups(store, 1)[0]["id"]
    before, began = instants(store), datetime.now(UTC)
    given = ["--config", str(config), "--by", "rob", "--on", "2026-10-02"]

    assert main(["contact", str(number), "no_answer", *given]) == 0

    made = instants(store) - before
    assert made and all(began <= at <= began + timedelta(minutes=5) for at in made)


def test_a_made_up_time_opens_no_real_register(
    store: Store,
    config: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv(INVENTED, "2026-03-02T09:00")
    looked = ["queue", "--config", str(config)]

    assert main(looked) == StorageError.exit_code
    assert "no invented one" in capfd.readouterr().err
    mark_invented(store.path)
    assert main(looked) == 0
    assert Clock().now() == datetime(2026, 3, 2, 9, tzinfo=UTC)
