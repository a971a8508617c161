"""An encrypted register: nothing of anybody lies readable, and all that the practice does goes on.

SQLCipher's promise (AES-256 by page, "SQLCipher Design") is held against the files' own bytes.
"""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec
import pytest

from recall.config import Config, Encryption
from recall.desk.core.opening import open_register
from recall.desk.post import letter_keys
from recall.desk.post.posted_pages import open_pages
from recall.desk.post.posting import batches
from recall.desk.practice import encrypting, restoring
from recall.errors import InputError, NotFound, Refused, StorageError
from recall.records import tables
from recall.records.database import files, keys
from recall.records.database.backup import make_backup
from recall.records.database.store import Store
from recall.records.journal import history
from tests.conftest import NOW
from tests.desk.posting_week import INVITED, at_desk, settings_around, weekly_post
from tests.desk.practice import FLUID, rows, somebody, visit

NAME = "Thackwell"


@pytest.fixture
def config(store: Store, tmp_path: Path) -> Iterator[Config]:
    """A practice with a child, a posted letter and a backup; its settings name a key file."""
    config = settings_around(store, tmp_path)
    desk = at_desk(store, config)
    visit(desk, somebody(desk, "W1"), right=FLUID)
    later = at_desk(store, config, INVITED)
    assert weekly_post(later) == 1
    make_backup(store.path, config.files.backups, NOW)
    store.close()
    keys.use(str(tmp_path / "key"), store.path)
    yield msgspec.structs.replace(config, encryption=Encryption(key=str(tmp_path / "key")))
    keys.use("", Path())


def begun(config: Config) -> str:
    code = encrypting.key_for(config, "clara")
    encrypting.begin(config, "clara", code)
    return code


def forgotten(config: Config) -> None:
    """Begin a new run of the program, which has to fetch the key."""
    keys.use("", Path())
    keys.use(config.encryption.key, config.files.database)


def lying_about(config: Config) -> list[Path]:
    folder = config.files.database.parent
    return [path for path in folder.rglob("*") if path.is_file()]


def told(config: Config) -> list[Path]:
    """Return the files in which the name can be read."""
    return [p for p in lying_about(config) if NAME.encode() in p.read_bytes()]


def test_no_file_holds_a_name_any_more_and_every_row_is_there(config: Config) -> None:
    before = told(config)
    kinds = {path.suffix for path in before}
    assert kinds >= {".db", ".json"}, "register, backup and what is kept of the letter"
    store = open_register(config.files)
    people, lines = rows(store, tables.Person), rows(store, tables.History)
    store.close()

    begun(config)

    assert told(config) == []
    again = open_register(config.files)
    assert rows(again, tables.Person) == people
    assert rows(again, tables.History)[:-1] == lines
    assert rows(again, tables.History)[-1]["what"] == "encryption_began"
    assert history.verify(again) == ()
    again.close()
    for path in (config.files.database, *config.files.backups.glob("*.db")):
        with pytest.raises(sqlite3.DatabaseError, match="not a database"):
            sqlite3.connect(path).execute("SELECT * FROM person").fetchall()


def test_the_day_s_work_and_the_night_s_go_on(config: Config) -> None:
    begun(config)
    forgotten(config)
    store = open_register(config.files)
    desk = at_desk(store, config, INVITED)
    visit(desk, somebody(desk, "W2"), right=FLUID)
    saved = make_backup(store.path, config.files.backups, NOW).path
    store.close()
    assert told(config) == []

    compared = restoring.rehearse(config, saved)
    assert (compared.same_history, compared.number) == (True, 0)
    restoring.restore(config, saved, "mina", 0)

    store = open_register(config.files)
    assert [row["ref"] for row in rows(store, tables.Person)] == ["W1", "W2"]
    store.close()
    assert told(config) == []


def test_a_backup_from_before_is_encrypted_as_it_is_put_back(
    config: Config, tmp_path: Path
) -> None:
    (plain,) = config.files.backups.glob("*.db")
    aside = tmp_path / "stick" / plain.name
    aside.parent.mkdir()
    aside.write_bytes(plain.read_bytes())
    begun(config)
    number = restoring.rehearse(config, aside).number
    restoring.restore(config, aside, "mina", number)
    assert not files.is_plain(config.files.database)
    open_register(config.files).close()


def test_the_pages_that_were_posted_are_sealed_and_can_be_read_again(
    config: Config, tmp_path: Path
) -> None:
    folder = config.files.letters
    pages = {p.name: p.read_bytes() for p in folder.glob("letters-*.pdf")}
    begun(config)
    assert pages and not list(folder.glob("*.pdf"))
    store = open_register(config.files)
    desk = at_desk(store, config, INVITED)
    (batch,) = batches(desk)
    (tmp_path / "read").mkdir()
    written = open_pages(desk, batch.number, tmp_path / "read")
    assert {p.name: p.read_bytes() for p in written if p.name in pages} == pages
    (kept,) = letter_keys.kept_in(folder)
    assert [one["person"] for one in kept.letters] == ["W1"]
    with pytest.raises(NotFound, match="No sealed pages of batch 99"):
        open_pages(desk, 99, tmp_path / "read")
    store.close()


def test_a_new_key_opens_everything_and_the_old_one_nothing(config: Config) -> None:
    old = begun(config)
    new = encrypting.key_for(config, "clara")
    assert new != old
    done = encrypting.change(config, "clara", new)
    assert (done.register, done.backups) == (True, 1)
    forgotten(config)
    assert keys.codes() == (new,)
    open_register(config.files).close()
    for path in (config.files.database, *config.files.backups.glob("*.db")):
        assert files_open(path, new) and not files_open(path, old)
    (kept,) = letter_keys.kept_in(config.files.letters)
    assert kept.letters


def files_open(path: Path, code: str) -> bool:
    connection = files.cipher().connect(str(path))
    try:
        return files.opens(connection, code)
    finally:
        connection.close()


def test_cut_off_while_the_key_changes_both_are_there_and_it_goes_on(
    config: Config, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = begun(config)
    (saved,) = config.files.backups.glob("*.db")
    real = encrypting.encrypting.rewrite

    def cut_off(path: Path, code: str) -> bool:
        if path == saved:
            raise KeyboardInterrupt
        return real(path, code)

    monkeypatch.setattr(encrypting.encrypting, "rewrite", cut_off)
    new = encrypting.key_for(config, "clara")
    with pytest.raises(KeyboardInterrupt):
        encrypting.change(config, "clara", new)
    monkeypatch.undo()
    forgotten(config)
    assert keys.codes() == (new, old)
    open_register(config.files).close()
    assert restoring.rehearse(config, saved).then.number, "the backup opens with the old one"
    assert encrypting.key_for(config, "clara") == new, "what was written down is the key"
    encrypting.change(config, "clara", new)
    forgotten(config)
    assert keys.codes() == (new,)
    assert files_open(saved, new) and files_open(config.files.database, new)


def test_another_key_is_said_and_the_right_one_from_paper_helps(config: Config) -> None:
    code = begun(config)
    place = Path(config.encryption.key)
    place.write_text(place.read_text().replace(code, keys.new_code()))
    forgotten(config)
    with pytest.raises(StorageError, match="The key does not open"):
        open_register(config.files)
    with pytest.raises(InputError, match="does not open the register"):
        encrypting.enter(config, keys.new_code())
    encrypting.enter(config, f" {code.lower().replace('-', ' ')} ")
    forgotten(config)
    open_register(config.files).close()


@pytest.mark.parametrize("slip", [0, 1, 9, 35])
def test_a_slip_of_the_hand_is_found_in_a_key(slip: int) -> None:
    code = keys.new_code()
    at = [n for n, c in enumerate(code) if c != "-"][slip]
    other = code[:at] + ("A" if code[at] != "A" else "B") + code[at + 1 :]
    with pytest.raises(InputError, match="a letter of it is wrong"):
        keys.checked(other)
    assert keys.checked(code) == code


def test_a_key_that_others_can_read_opens_nothing(config: Config) -> None:
    begun(config)
    Path(config.encryption.key).chmod(0o644)
    forgotten(config)
    with pytest.raises(StorageError, match="may be read by others"):
        open_register(config.files)


def test_a_key_that_is_gone_is_said_with_the_way_on(config: Config) -> None:
    begun(config)
    Path(config.encryption.key).unlink()
    forgotten(config)
    with pytest.raises(StorageError, match="There is no key") as said:
        open_register(config.files)
    assert "recall encryption enter" in said.value.hint


def test_without_the_setting_an_encrypted_register_is_never_an_empty_one(config: Config) -> None:
    begun(config)
    keys.use("", Path())
    with pytest.raises(StorageError, match="encrypted and no key is set"):
        open_register(config.files)


def test_a_typed_key_needs_somebody_to_type_it(
    config: Config, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = begun(config)
    keys.use("ask", config.files.database)
    with pytest.raises(StorageError, match="nobody is there to type it"):
        open_register(config.files)
    monkeypatch.setattr(keys.sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(keys, "getpass", lambda _words: code)
    open_register(config.files).close()


@contextmanager
def a_desk_elsewhere(database: Path) -> Iterator[None]:
    """Hold a register open in another process, as a desk does."""
    words = (
        "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]);"
        "print(c.execute('SELECT count(*) FROM person').fetchone(), flush=True); input()"
    )
    command = (sys.executable, "-c", words, str(database))
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as other:
        assert other.stdout is not None and other.stdin is not None
        other.stdout.readline()
        yield
        other.stdin.close()


def test_who_may_not_and_whoever_has_it_open_stop_it(config: Config) -> None:
    with pytest.raises(Refused, match="may not encrypt the register"):
        encrypting.key_for(config, "rob")
    code = encrypting.key_for(config, "clara")
    with a_desk_elsewhere(config.files.database), pytest.raises(Refused, match="register open"):
        encrypting.begin(config, "clara", code)
    assert files.is_plain(config.files.database)
    assert encrypting.key_for(config, "clara") == code, "what was written down stays the key"
    encrypting.begin(config, "clara", code)
    with pytest.raises(Refused, match="encrypted already"):
        encrypting.begin(config, "clara", keys.new_code())


def test_that_the_key_was_shown_is_in_the_history(config: Config) -> None:
    code = begun(config)
    assert encrypting.show(config, "clara") == code
    store = open_register(config.files)
    assert rows(store, tables.History)[-1]["what"] == "key_shown"
    assert code not in str(rows(store, tables.History))
    store.close()


def test_a_changed_byte_in_a_sealed_file_is_found(config: Config) -> None:
    begun(config)
    (path,) = config.files.letters.glob("letters-*.pdf.sealed")
    content = bytearray(path.read_bytes())
    content[-1] ^= 1
    path.write_bytes(content)
    store = open_register(config.files)
    desk = at_desk(store, config, INVITED)
    with pytest.raises(StorageError, match="or was changed"):
        open_pages(desk, batches(desk)[0].number, config.files.letters.parent)
    store.close()
