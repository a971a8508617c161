"""A backup holds what is committed, was looked at, and can be put back."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import func, select

from recall.errors import StorageError
from recall.records.database.backup import check, make_backup, rehearse, restore
from recall.records.database.store import Store, open_store
from recall.records.tables import Person
from tests.conftest import NOW
from tests.records.build import person


def people_in(path: Path) -> int:
    with sqlite3.connect(path) as connection:
        count: int = connection.execute("SELECT count(*) FROM person").fetchone()[0]
    connection.close()
    return count


def test_a_backup_holds_what_a_plain_copy_of_the_file_lacks(
    store: Store, register_path: Path, tmp_path: Path
) -> None:
    """The newest rows lie in the write-ahead log beside the file."""
    with store.write() as session:
        for number in range(10):
            person(session, f"W{number}")
    copied = shutil.copyfile(register_path, tmp_path / "copied.db")

    saved = make_backup(register_path, tmp_path / "kept", NOW)

    assert (people_in(copied), people_in(saved.path), saved.rows["person"]) == (0, 10, 10)
    assert saved.path.name == "register-20260901T090000000000Z.db"


def test_a_backup_is_made_while_somebody_writes(
    store: Store, register_path: Path, tmp_path: Path
) -> None:
    with store.write() as session:
        person(session)
        saved = make_backup(register_path, tmp_path / "kept", NOW)

    assert saved.rows["person"] == 0


def test_a_damaged_copy_is_not_taken_for_a_backup(
    store: Store, register_path: Path, tmp_path: Path
) -> None:
    saved = make_backup(register_path, tmp_path / "kept", NOW)
    with saved.path.open("r+b") as file:
        file.seek(8192)
        file.write(b"\xff" * 8192)

    for looks_at in (check, rehearse):
        with pytest.raises(StorageError, match="damaged"):
            looks_at(saved.path)
    with pytest.raises(StorageError, match="damaged"):
        restore(saved.path, register_path)
    assert people_in(register_path) == 0


def test_nothing_half_made_is_left_in_the_backup_folder(
    register_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(_path: Path) -> dict[str, int]:
        raise StorageError("damaged")

    monkeypatch.setattr("recall.records.database.backup.check", fails)

    with pytest.raises(StorageError):
        make_backup(register_path, tmp_path / "kept", NOW)
    assert list((tmp_path / "kept").iterdir()) == []


def test_a_backup_of_nothing_is_refused(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="could not be made"):
        make_backup(tmp_path / "none.db", tmp_path / "kept", NOW)
    assert not (tmp_path / "none.db").exists()


def test_a_rehearsal_restores_aside_and_leaves_nothing(
    store: Store, register_path: Path, tmp_path: Path
) -> None:
    with store.write() as session:
        person(session)
    saved = make_backup(register_path, tmp_path / "kept", NOW)

    assert rehearse(saved.path).rows == saved.rows
    assert list((tmp_path / "kept").iterdir()) == [saved.path]


def test_a_restored_register_opens_and_the_old_one_is_kept_aside(
    store: Store, register_path: Path, tmp_path: Path
) -> None:
    with store.write() as session:
        person(session)
    saved = make_backup(register_path, tmp_path / "kept", NOW)
    with store.write() as session:
        person(session, "W2")
    store.close()

    restore(saved.path, register_path)

    again = open_store(register_path)
    with again.read() as session:
        assert session.scalar(select(func.count(Person.id))) == 1
    again.close()
    assert people_in(register_path.with_name("register.db.before-restore")) == 2
