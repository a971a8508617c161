"""`recall encryption`, as somebody types it: the key on paper, then everything with it."""

from __future__ import annotations

import io
import sqlite3
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from recall.cli.main import main
from recall.records.database import keys
from recall.records.database.store import Store

Told = tuple[int, str, str]


@pytest.fixture
def recall(
    store: Store, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> Iterator[Callable[..., Told]]:
    """Run a command on a practice whose settings name a key file; status, output, messages."""
    config = tmp_path / "recall.toml"
    config.write_text(
        f"""
[practice]
name = "Wrenfield Ear Care"
address = ["4 Tanner's Row", "Wrenfield"]
postcode = "WF99 4ZZ"
phone = "01632 960100"

[files]
database = "{store.path.as_posix()}"

[encryption]
key = "stick/key"
"""
    )
    (tmp_path / "stick").mkdir()
    store.close()

    def run(*words: str) -> Told:
        keys.use("", Path())  # each command is a run of its own
        status = main([*words, "--config", str(config)])
        return status, *capfd.readouterr()

    yield run
    keys.use("", Path())


def test_from_plain_to_encrypted_and_on_with_another_key(
    recall: Callable[..., Told], store: Store, tmp_path: Path
) -> None:
    assert "not encrypted yet: recall encryption begin" in recall("queue", "--by", "clara")[2]
    status, first, said = recall("encryption", "begin", "--by", "clara")
    assert status == 0, said
    assert "Write it down and lock it away" in said and "The register is encrypted" in said
    assert (tmp_path / "stick" / "key").stat().st_mode & 0o077 == 0

    status, _out, said = recall("queue", "--by", "clara")
    assert status == 0 and "not encrypted yet" not in said
    assert recall("backup")[0] == 0
    (backup,) = (tmp_path / "backups").glob("*.db")
    with pytest.raises(sqlite3.DatabaseError):
        sqlite3.connect(backup).execute("SELECT * FROM staff").fetchall()

    assert recall("encryption", "show", "--by", "clara")[1] == first
    status, second, said = recall("encryption", "change", "--by", "clara")
    assert status == 0 and second != first
    assert "So are 1 backups" in said
    assert recall("history", "verify", "--by", "clara")[0] == 0


def test_the_key_from_paper_after_its_place_was_lost(
    recall: Callable[..., Told], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = recall("encryption", "begin", "--by", "clara")[1]
    (tmp_path / "stick" / "key").unlink()
    status, out, said = recall("queue", "--by", "clara")
    assert (status, out) == (3, "") and "There is no key of the register in" in said
    monkeypatch.setattr(sys, "stdin", io.StringIO("nonsense\n"))
    assert "That is no key of a register" in recall("encryption", "enter")[2]
    monkeypatch.setattr(sys, "stdin", io.StringIO(code))
    assert recall("encryption", "enter")[0] == 0
    assert recall("queue", "--by", "clara")[0] == 0


def test_who_may_not_is_told_so_and_nothing_changes(
    recall: Callable[..., Told], store: Store, tmp_path: Path
) -> None:
    status, out, said = recall("encryption", "begin", "--by", "rob")
    assert (status, out) == (5, "") and "may not encrypt the register" in said
    assert not (tmp_path / "stick" / "key").exists()
    assert store.path.read_bytes().startswith(b"SQLite format 3")
    status, _out, said = recall("encryption", "show", "--by", "clara")
    assert status == 5 and "The register is not encrypted." in said


def test_another_file_is_never_taken_for_the_key_s_place(
    recall: Callable[..., Told], tmp_path: Path, store: Store
) -> None:
    mine = tmp_path / "stick" / "key"
    mine.write_text("notes of my own\n")
    mine.chmod(0o600)
    status, _out, said = recall("encryption", "begin", "--by", "clara")
    assert status != 0 and len(said.splitlines()) <= 3, said
    assert mine.read_text() == "notes of my own\n"
    assert store.path.read_bytes().startswith(b"SQLite format 3")


@pytest.mark.parametrize("library", ["sqlcipher3", "cryptography.hazmat.primitives.ciphers"])
def test_without_the_libraries_no_key_is_shown_or_kept(
    recall: Callable[..., Told], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, library: str
) -> None:
    monkeypatch.setitem(sys.modules, library, None)  # as where it was never installed
    status, out, said = recall("encryption", "begin", "--by", "clara")
    assert (status, out) == (3, "") and "is not installed" in said and ".[encrypted]" in said
    assert not (tmp_path / "stick" / "key").exists()


def test_a_practice_that_begins_encrypted_is_never_plain(
    recall: Callable[..., Told], store: Store
) -> None:
    for path in store.path.parent.glob(f"{store.path.name}*"):
        path.unlink()
    assert "recall encryption begin makes one" in recall("set-up")[2]
    status, _code, said = recall("encryption", "begin")
    assert status == 0 and "recall set-up makes the register" in said
    assert recall("set-up", "--clinician", "quill", "--name", "A. Quill")[0] == 0
    assert not store.path.read_bytes().startswith(b"SQLite format 3")
    assert recall("staff", "list")[1].count("quill") == 1
