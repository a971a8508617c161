"""A backup holds what is committed, was looked at, and can be put back."""

from __future__ import annotations

import os
import shutil
import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import func, select

from recall.errors import StorageError
from recall.records.database.backup import check, copy_elsewhere, head_of, make_backup
from recall.records.database.restoring import aside, put_in_place
from recall.records.database.store import Store, open_store
from recall.records.journal import history
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

    with pytest.raises(StorageError, match="damaged"):
        check(saved.path)
    with pytest.raises(StorageError, match="damaged"), aside(saved.path, register_path):
        pass
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


def test_a_trial_lies_aside_and_leaves_nothing(
    store: Store, register_path: Path, tmp_path: Path
) -> None:
    with store.write() as session:
        person(session)
    saved = make_backup(register_path, tmp_path / "kept", NOW)

    with aside(saved.path, register_path) as trial:
        assert people_in(trial) == 1 and trial.stat().st_mode & 0o077 == 0
    assert list((tmp_path / "kept").iterdir()) == [saved.path]
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_a_restored_register_opens_and_the_old_one_is_kept_aside(
    store: Store, register_path: Path, tmp_path: Path
) -> None:
    with store.write() as session:
        person(session)
    saved = make_backup(register_path, tmp_path / "kept", NOW)
    with store.write() as session:
        person(session, "W2")
    store.close()

    with aside(saved.path, register_path) as trial:
        kept = put_in_place(trial, register_path, NOW)

    again = open_store(register_path)
    with again.read() as session:
        assert session.scalar(select(func.count(Person.id))) == 1
    again.close()
    assert kept == tmp_path / "register-before-restore-20260901T090000-000000Z.db"
    assert people_in(kept) == 2


def test_a_backup_says_in_its_name_where_the_history_stands(
    store: Store, register_path: Path, tmp_path: Path
) -> None:
    with store.write() as session:
        history.append(session, 1, NOW, "added", "person", 1)

    saved = make_backup(register_path, tmp_path / "kept", NOW)

    assert saved.head.number == 1 and saved.head == head_of(register_path)
    assert saved.path.name.endswith(f"Z-1-{saved.head.digest[:12]}.db")


def test_a_second_place_on_the_same_disk_is_none(register_path: Path, tmp_path: Path) -> None:
    saved = make_backup(register_path, tmp_path / "kept", NOW)
    (tmp_path / "same").mkdir()

    with pytest.raises(StorageError, match="on the disk of the database itself"):
        copy_elsewhere(saved.path, tmp_path / "same", register_path)
    with pytest.raises(StorageError, match="could not be copied"):
        copy_elsewhere(saved.path, tmp_path / "none", register_path)
    assert list((tmp_path / "same").iterdir()) == []


def test_a_copy_elsewhere_is_checked_and_for_its_owner_alone(
    register_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    saved = make_backup(register_path, tmp_path / "kept", NOW)
    other = tmp_path / "other"
    other.mkdir()
    disk = Path.stat

    def on_another_disk(path: Path, **more: bool) -> os.stat_result:
        """Let one folder lie on a disk of its own, as a drive put in would."""
        found = disk(path, **more)
        moved = list(found)
        moved[2] += path == other
        return os.stat_result(moved)

    monkeypatch.setattr(Path, "stat", on_another_disk)
    copied = copy_elsewhere(saved.path, other, register_path)
    monkeypatch.undo()

    assert check(copied) == saved.rows
    assert copied.stat().st_mode & 0o077 == 0
    assert list(other.iterdir()) == [copied]
