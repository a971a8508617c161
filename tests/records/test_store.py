"""The open register: nothing is lost between two desks, and what goes wrong is said in words."""

from __future__ import annotations

import sqlite3
import stat
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from sqlalchemy import select, text
from sqlalchemy.exc import IntegrityError, StatementError

from recall.errors import Conflict, StorageError
from recall.records.database import engine as engines
from recall.records.database import servers
from recall.records.database.store import Store, open_store
from recall.records.database.upgrade import upgrade
from recall.records.journal.claims import claim, release
from recall.records.ledger.storing import store_ledger
from recall.records.tables import FollowUp, Person, PersonRisk
from tests import registers
from tests.conftest import NOW
from tests.records.build import DAY, MADE, WHO, due, ledger, opens, person

ADDS = 20


def add_up(path: Path, times: int = ADDS) -> None:
    """Read a number, add one, write it back: what two desks do to one person."""
    store = open_store(path)
    for _ in range(times):
        with store.write() as session:
            row = session.scalars(select(Person)).one()
            row.caller_note = str(int(row.caller_note or "0") + 1)
    store.close()


def note(store: Store) -> str:
    with store.read() as session:
        return session.scalars(select(Person.caller_note)).one()


def test_two_threads_lose_no_update(store: Store, register_path: Path) -> None:
    with store.write() as session:
        person(session)

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(add_up, [register_path] * 2))

    assert note(store) == str(2 * ADDS)


PROGRAM = """
import sys
from pathlib import Path
from sqlalchemy import select
from recall.records.database import servers
from recall.records.database.store import open_store
from recall.records.tables import Person
servers.use(sys.argv[3], Path(sys.argv[1]))
store = open_store(Path(sys.argv[1]))
for _ in range(int(sys.argv[2])):
    with store.write() as session:
        row = session.scalars(select(Person)).one()
        row.caller_note = str(int(row.caller_note or "0") + 1)
"""


def test_two_processes_lose_no_update(store: Store, register_path: Path) -> None:
    with store.write() as session:
        person(session)
    address = servers.address_of(register_path)
    command = [sys.executable, "-c", PROGRAM, str(register_path), str(ADDS), address]

    desks = [subprocess.Popen(command) for _ in range(2)]

    assert [desk.wait(60) for desk in desks] == [0, 0]
    assert note(store) == str(2 * ADDS)


def test_a_reader_is_not_held_up_by_a_writer(store: Store) -> None:
    with store.write() as writing:
        person(writing)
        with store.read() as reading:
            assert reading.scalars(select(Person)).all() == []


def test_nothing_is_kept_after_an_error(store: Store) -> None:
    with pytest.raises(RuntimeError), store.write() as session:
        person(session)
        raise RuntimeError

    with store.read() as session:
        assert session.scalars(select(Person)).all() == []


def test_nothing_is_kept_from_a_session_that_reads(store: Store) -> None:
    with store.read() as session:
        person(session)

    with store.read() as session:
        assert session.scalars(select(Person)).all() == []


def test_rows_can_be_used_after_their_session(store: Store) -> None:
    with store.write() as session:
        row = person(session)

    assert row.family_name == "Marsh"


def test_foreign_keys_are_on_for_every_desk(store: Store) -> None:
    with pytest.raises(IntegrityError, match="FOREIGN KEY"), store.write() as session:
        session.add(PersonRisk(person_id=99, what="diabetes", **MADE))


def test_a_person_with_rows_cannot_be_deleted(store: Store) -> None:
    with store.write() as session:
        session.add(PersonRisk(person_id=person(session).id, what="diabetes", **MADE))

    with pytest.raises(IntegrityError), store.write() as session:
        session.execute(text("DELETE FROM person"))


def test_half_a_void_is_refused(store: Store) -> None:
    with pytest.raises(IntegrityError, match="void_is_whole"), store.write() as session:
        person(session, void_at=NOW)


def test_the_second_to_save_the_same_person_is_told(store: Store) -> None:
    """One desk looked, another changed, the first saves."""
    with store.write() as session:
        person(session)
    with store.read() as session:
        looked_at = session.scalars(select(Person)).one()
    with store.write() as session:
        session.scalars(select(Person)).one().caller_note = "changed"

    looked_at.caller_note = "late"
    with pytest.raises(Conflict, match="meanwhile"), store.write() as session:
        session.add(looked_at)


def test_a_locked_database_is_said_in_words(
    register_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engines, "BUSY_MS", 50)
    store = open_store(register_path)
    other = sqlite3.connect(register_path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")

    with pytest.raises(StorageError, match="locked") as told, store.write():
        pass

    assert "try again" in told.value.hint
    other.close()
    store.close()


def test_a_missing_database_is_said_in_words_and_not_made(tmp_path: Path) -> None:
    path = tmp_path / "none.db"

    with pytest.raises(StorageError, match="no database"):
        open_store(path)
    assert not path.exists()


def test_a_database_that_vanishes_is_said_in_words(store: Store, register_path: Path) -> None:
    store.close()
    register_path.unlink()

    with pytest.raises(StorageError, match="cannot be opened"), store.read() as session:
        session.scalars(select(Person)).all()
    assert not register_path.exists()


def test_a_file_that_is_no_database_is_said_in_words(tmp_path: Path) -> None:
    path = tmp_path / "notes.db"
    path.write_text("Dear all, " * 1000)

    with pytest.raises(StorageError, match="not a database"):
        open_store(path)


def test_a_database_of_something_else_is_said_in_words_and_left_alone(tmp_path: Path) -> None:
    other = tmp_path / "orders.db"
    registers.make(other)
    made = engines.migration_engine(other)
    with engines.writing(made).begin() as connection:
        connection.execute(text("CREATE TABLE orders (id integer)"))
    made.dispose()

    for opening in (open_store, lambda path: upgrade(path, at=NOW)):
        with pytest.raises(StorageError, match="a database of something else") as refused:
            opening(other)
        assert "upgrade" not in str(refused.value)


def test_a_damaged_database_is_said_in_words(register_path: Path) -> None:
    size = register_path.stat().st_size
    with register_path.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xff" * (size - 4096))

    with pytest.raises(StorageError, match=r"damaged|not a database"):
        store = open_store(register_path)
        with store.read() as session:
            session.scalars(select(Person)).all()


def test_a_full_disk_is_said_in_words_and_keeps_nothing(register_path: Path) -> None:
    """SQLite's own limit of pages stands for a full disk."""
    store = open_store(register_path)
    with pytest.raises(StorageError, match="full"), store.write() as session:
        pages = session.scalar(text("PRAGMA page_count"))
        session.execute(text(f"PRAGMA max_page_count = {pages}"))
        for number in range(2000):
            session.add(Person(ref=f"W{number}", family_name="x" * 500, born=DAY, **MADE))
        session.flush()
    store.close()

    again = open_store(register_path)
    with again.read() as session:
        assert session.scalars(select(Person)).all() == []
    again.close()


def test_a_read_only_connection_is_said_in_words(store: Store) -> None:
    with pytest.raises(StorageError, match="may not be written"), store.write() as session:
        session.execute(text("PRAGMA query_only = ON"))
        person(session)


def test_an_odd_path_is_opened_as_it_is(register_path: Path, tmp_path: Path) -> None:
    odd = tmp_path / "Wrenfield & Söhne? 100% #1"
    odd.mkdir()
    moved = register_path.rename(odd / "register.db")

    store = open_store(moved)
    with store.write() as session:
        person(session)
    store.close()

    assert sorted(p.name for p in odd.iterdir()) == ["register.db"]


def test_an_instant_without_its_zone_is_refused(store: Store) -> None:
    with pytest.raises(StatementError, match="time zone"), store.write() as session:
        person(session, recorded_at=datetime(2026, 9, 1, 12, 0))


def test_an_instant_comes_back_in_utc(store: Store) -> None:
    summer = timezone(timedelta(hours=1))
    with store.write() as session:
        person(session, recorded_at=datetime(2026, 9, 1, 12, 0, tzinfo=summer))

    with store.read() as session:
        found = session.scalars(select(Person.recorded_at)).one()
    assert found == datetime(2026, 9, 1, 11, 0, tzinfo=UTC)
    assert found.tzinfo is UTC


def test_a_word_outside_its_list_is_refused_by_the_database(store: Store) -> None:
    with pytest.raises(IntegrityError, match="ck_person_risk_ear"), store.write() as session:
        who = person(session)
        session.add(PersonRisk(person_id=who.id, what="diabetes", ear="both", **MADE))


def test_a_claim_keeps_others_away_until_it_runs_out(store: Store) -> None:
    with store.write() as session:
        who = person(session)
        store_ledger(session, who.id, ledger(due()), WHO, opens)

    with store.write() as session:
        until = claim(session, 1, 1, NOW)
    with pytest.raises(Conflict), store.write() as session:
        claim(session, 1, 2, NOW + timedelta(minutes=1))
    with store.write() as session:
        claim(session, 1, 2, until)
        release(session, 1, 2)

    with store.read() as session:
        assert session.scalars(select(FollowUp.claim_by_id)).one() is None


def test_born_on_29_february_is_kept(store: Store) -> None:
    with store.write() as session:
        person(session, born=date(2008, 2, 29))

    with store.read() as session:
        assert session.scalars(select(Person.born)).one() == date(2008, 2, 29)


def test_opening_the_register_imports_no_migrations_and_no_screens() -> None:
    """They cost a third of a second at every start."""
    heavy = (
        "import sys, recall.records.database.store, recall.records.ledger.storing\n"
        "import recall.records.facts.candidates\n"
        "unwanted = {'alembic', 'textual', 'jinja2', 'apscheduler'}\n"
        "print(sorted(unwanted & set(sys.modules)))"
    )

    said = subprocess.run([sys.executable, "-c", heavy], capture_output=True, text=True, check=True)

    assert said.stdout.strip() == "[]"


def test_a_new_register_and_what_lies_beside_it_are_for_their_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "kept" / "recall.db"
    upgrade(path, at=NOW)
    store = open_store(path)
    with store.write() as session:
        session.execute(text("UPDATE register SET mark = mark"))
    rights = {each.name: stat.S_IMODE(each.stat().st_mode) for each in path.parent.iterdir()}
    store.close()
    assert rights.keys() >= {"recall.db", "recall.db-wal"} and set(rights.values()) == {0o600}
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
