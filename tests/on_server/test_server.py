"""What is otherwise on a server: the write turn, words for what goes wrong, what is never made."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import msgspec
import psycopg
import pytest
from sqlalchemy import select, text

from recall.config import Files
from recall.desk.core.opening import open_register
from recall.desk.core.watch import Watch
from recall.desk.practice import moving, restoring
from recall.desk.practice.setting_up import set_up
from recall.errors import ConfigError, Refused, StorageError
from recall.records import tables
from recall.records.database import on_server, servers
from recall.records.database.backup import make_backup
from recall.records.database.store import Store, open_store
from recall.records.database.upgrade import upgrade
from recall.records.journal import history
from tests import registers
from tests.conftest import NOW
from tests.desk.practice import PRACTICE, desk_at, rows, somebody, with_files


def raw(store: Store) -> psycopg.Connection:
    """A connection of somebody else to the same database."""
    address = servers.address_of(store.path).replace("+psycopg", "")
    return psycopg.connect(address, autocommit=True)


def test_who_writes_holds_the_turn_and_sees_what_was_committed_before(store: Store) -> None:
    """Read, then write: the second reads what the first wrote, however long it waited."""
    seen: list[str] = []
    begun = threading.Event()

    def second() -> None:
        begun.set()
        with store.write() as session:
            seen.append(
                session.scalars(select(tables.Staff.name).where(tables.Staff.id == 2)).one()
            )

    with store.write() as session:
        waiting = threading.Thread(target=second)
        waiting.start()
        begun.wait()
        time.sleep(0.2)
        session.execute(text("UPDATE staff SET name = 'Robin' WHERE id = 2"))
        assert seen == []
    waiting.join()

    assert seen == ["Robin"]


def test_who_reads_sees_one_state(store: Store) -> None:
    wanted = select(tables.Staff.name).where(tables.Staff.id == 2)
    with store.read() as session:
        before = session.scalar(wanted)
        with store.write() as other:
            other.execute(text("UPDATE staff SET name = 'Robin' WHERE id = 2"))
        assert session.scalar(wanted) == before
    with store.read() as session:
        assert session.scalar(wanted) == "Robin"


def test_who_waits_too_long_is_told(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    with raw(store) as other:
        other.execute(f"SELECT pg_advisory_lock({on_server.WRITE_LOCK})")
        with store.engine.connect() as connection:
            connection.exec_driver_sql("SET lock_timeout = 100")
            connection.commit()
        with pytest.raises(StorageError, match="locked by another desk or job"), store.write():
            pass


def test_a_desk_hears_that_somebody_wrote(store: Store) -> None:
    watch = Watch(store)
    before = watch.count()
    assert watch.count() == before
    with store.write() as session:
        session.execute(text("UPDATE staff SET name = 'Robin' WHERE id = 2"))
    assert watch.count() != before
    watch.close()


def test_a_server_that_is_gone_for_a_moment_is_said_and_gone_on_with(store: Store) -> None:
    cut = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid != pg_backend_pid()"
    cut += " AND datname = current_database()"
    with (
        pytest.raises(StorageError, match="database server was stopped") as told,
        store.write() as session,
        raw(store) as other,
    ):
        session.execute(text("UPDATE staff SET name = 'Robin' WHERE id = 2"))
        other.execute(cut)
        session.execute(text("SELECT 1"))

    assert "look whether the last thing that you did is there" in told.value.hint
    assert {row["name"] for row in rows(store, tables.Staff)} >= {"Rob Tanner"}


@pytest.mark.parametrize("at", ["the server", "nowhere", "an unknown machine"])
def test_a_database_that_is_not_there_is_said_in_words(tmp_path: Path, at: str) -> None:
    place = tmp_path / "x.server"
    address, said = {
        "the server": (registers.address_of_none(), "There is no database of this name"),
        "nowhere": ("postgresql+psycopg:///x?host=/no/such/folder", "cannot be reached: "),
        "an unknown machine": ("postgresql+psycopg://no.host.invalid/x", "cannot be reached: "),
    }[at]
    servers.use(address, place)

    with pytest.raises(StorageError, match=said):
        open_store(place)


def test_a_row_that_was_taken_back_leaves_no_gap_in_the_numbers(store: Store) -> None:
    """As in a file: the runs of an import that was shown first are numbered one after another."""
    desk = desk_at(store)
    first = somebody(desk, "W1")
    with pytest.raises(ValueError), store.write() as session:
        session.add(tables.Person(ref="W2", given_names="Ada", family_name="Orrell"))
        raise ValueError
    with store.rehearse() as session:
        session.execute(text("INSERT INTO history_payload (history_id) SELECT 1 WHERE false"))
    assert somebody(desk, "W3") == first + 1


def test_an_address_that_is_none_is_refused(tmp_path: Path) -> None:
    servers.use("postgresql+psycopg://:x:y/z", tmp_path / "x.server")

    with pytest.raises((ConfigError, StorageError)):
        open_store(tmp_path / "x.server")


def test_an_empty_database_never_becomes_an_empty_register(store: Store, tmp_path: Path) -> None:
    saved = make_backup(store.path, tmp_path / "backups", NOW).path
    store.close()
    empty = tmp_path / "empty.server"
    registers.make(empty)
    address = servers.address_of(empty)
    files = Files(database=empty, server=address, backups=tmp_path / "backups")

    with pytest.raises(StorageError, match=rf"is empty. The newest backup is {saved}"):
        set_up(msgspec.structs.replace(PRACTICE, files=files))
    with pytest.raises(StorageError, match="is empty"):
        open_register(files)


def test_a_database_that_sorts_otherwise_is_refused(tmp_path: Path) -> None:
    place = tmp_path / "ascii.server"
    registers.make(place, "LOCALE 'C' ENCODING 'SQL_ASCII'")

    with pytest.raises(StorageError, match=r"does not suit: .* createdb --template=template0"):
        upgrade(place, at=NOW)


def test_there_and_back_again_is_the_same(store: Store, tmp_path: Path) -> None:
    desk = desk_at(store, by="mina")
    for number in range(5):
        somebody(desk, f"W{number}")
    config = with_files(desk, database=store.path).config
    before = rows(store, tables.ContactPoint)
    store.close()
    place = tmp_path / "second.server"
    registers.make(place)
    second = msgspec.structs.replace(config.files, database=place, server=servers.address_of(place))

    moving.move_to(config, second, "mina")
    moved = msgspec.structs.replace(config, files=second)
    third = moving.files_at(second, "third.db", tmp_path)
    moving.move_to(moved, third, "mina")

    file = open_store(third.database)
    assert rows(file, tables.ContactPoint) == before
    assert history.verify(file) == ()
    file.close()
    with pytest.raises(Refused, match="is not empty"):
        moving.move_to(msgspec.structs.replace(config, files=third), second, "mina")


def test_a_backup_is_put_back_at_one_stroke(store: Store, tmp_path: Path) -> None:
    desk = desk_at(store, by="mina")
    somebody(desk, "W1")
    backups = tmp_path / "backups"
    config = with_files(desk, database=store.path, backups=backups, letters=tmp_path).config
    saved = make_backup(store.path, backups, NOW).path
    somebody(desk, "W2")
    compared = restoring.rehearse(config, saved)
    assert compared.lost == {"people": 1} and compared.same_history
    with store.read(), pytest.raises(Refused, match="has the register open"):
        restoring.restore(config, saved, "mina", compared.number)
    assert not list(store.path.parent.glob("*-before-restore-*"))
    store.close()

    done = restoring.restore(config, saved, "mina", compared.number)

    again = open_store(store.path)
    assert [row["ref"] for row in rows(again, tables.Person)] == ["W1"]
    assert history.verify(again) == ()
    again.close()
    assert done.old is not None
    old = open_store(done.old)
    assert [row["ref"] for row in rows(old, tables.Person)] == ["W1", "W2"]
    old.close()
