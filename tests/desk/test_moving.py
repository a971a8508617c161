"""A register moved to another database: proven to be the same, or nothing of it is left."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import pytest
from sqlalchemy import text

from recall.config import Config, Files
from recall.desk.core.opening import open_register
from recall.desk.core.session import Desk
from recall.desk.practice import moving
from recall.errors import Refused, StorageError
from recall.records import tables
from recall.records.database import moving as copying
from recall.records.database import servers
from recall.records.database.store import Store
from recall.records.journal import history
from recall.records.tables.base import Base
from tests.desk.practice import rows, with_files


@pytest.fixture
def config(whole: Desk) -> Config:
    """The settings of a practice of two dozen people, whose register nobody has open."""
    whole.store.close()
    return with_files(whole, database=whole.store.path).config


@pytest.fixture
def target(config: Config, tmp_path: Path) -> Files:
    return moving.files_at(config.files, "moved.db", tmp_path)


def everything(store: Store) -> dict[str, list[Any]]:
    """Every value of every row, by table."""
    with store.read() as session:
        return {
            table.name: session.execute(table.select().order_by(*table.primary_key.columns)).all()
            for table in Base.metadata.sorted_tables
        }


def test_every_row_arrives_and_both_say_where_it_went(config: Config, target: Files) -> None:
    store = open_register(config.files)
    before = everything(store)
    store.close()

    done = moving.move_to(config, target, "mina")

    there = open_register(target)
    now = everything(there)
    lines = now.pop("history"), now.pop("history_payload"), now.pop("history_head")
    assert now == {name: found for name, found in before.items() if not name.startswith("history")}
    assert lines[0][:-1] == before["history"] and lines[1][:-1] == before["history_payload"]
    last = rows(there, tables.History)[-1]
    assert (last["what"], last["entity"], last["by_id"]) == ("moved", "register", 3)
    assert history.verify(there) == ()
    assert done.rows == {name: len(found) for name, found in before.items()}
    assert done.lines == len(before["history"]) and done.asks > 100
    with there.write() as session:  # the next row gets a number of its own
        made = {"ref": "W999", "given_names": "A", "family_name": "B", "gp": "", "recorded_no": 1}
        made |= {key: before["person"][0]._mapping[key] for key in ("born", "on", "recorded_at")}
        session.add(tables.Person(**made, by_id=1))
    there.close()
    with pytest.raises(StorageError, match=r"was moved to .*moved\.db on .*this is the old one"):
        open_register(config.files)
    Path(f"{config.files.database}.moved").unlink()
    old = open_register(config.files)
    assert everything(old) == before
    old.close()


@pytest.mark.parametrize("by", ["rob", "clara"])
def test_only_who_may_moves_it(config: Config, target: Files, by: str) -> None:
    if by == "clara":
        assert moving.move_to(config, target, by).lines
        return
    with pytest.raises(Refused, match="may not move the register"):
        moving.move_to(config, target, by)
    assert not target.database.exists()


def test_nothing_that_is_there_is_written_over(config: Config, target: Files) -> None:
    target.database.write_bytes(b"")

    with pytest.raises(Refused, match=r"moved\.db is not empty"):
        moving.move_to(config, target, "mina")

    assert target.database.read_bytes() == b""


def test_a_register_that_somebody_has_open_stays(config: Config, target: Files) -> None:
    desk = open_register(config.files)
    with desk.read() as session, pytest.raises(Refused, match="has the register open"):
        session.execute(text("SELECT 1"))
        moving.move_to(config, target, "mina")
    desk.close()

    assert not target.database.exists()


CHANGES = {
    "a row that is missing": "DELETE FROM person_key",
    "a line of the history": "UPDATE history SET what = 'altered' WHERE id = 3",
    "a day that is another": "UPDATE follow_up SET latest = '2031-01-01'",
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_copy_that_is_another_is_thrown_away(
    config: Config, target: Files, change: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = copying.copy

    def altered(source: Any, place: Path) -> dict[str, int]:
        found = copy(source, place)
        store = open_register(target)
        with store.write() as session:
            session.execute(text(CHANGES[change]))
        store.close()
        return found

    monkeypatch.setattr(copying, "copy", altered)
    with pytest.raises(StorageError, match="The copy is not the register"):
        moving.move_to(config, target, "mina")

    assert not target.database.exists()
    open_register(config.files).close()


def test_a_password_is_not_shown(tmp_path: Path) -> None:
    place = tmp_path / "ears.server"
    for address in (
        "postgresql+psycopg://a:Qx7@h/ears",
        "postgresql+psycopg://h/ears?password=Qx7",
    ):
        servers.use(address, place)
        assert "Qx7" not in servers.shown(place) and "ears" in servers.shown(place)
    servers.use("", place)
    assert servers.shown(place) == str(place)


def test_settings_keep_everything_else(config: Config, tmp_path: Path) -> None:
    moved = moving.files_at(config.files, "moved.db", tmp_path)

    assert moved == msgspec.structs.replace(config.files, database=tmp_path / "moved.db")
