"""A backup put back: what would be lost is shown, nothing is printed twice, nothing half done."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from recall.config import Config
from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.opening import open_register
from recall.desk.core.session import open_desk
from recall.desk.oversight import failsafe
from recall.desk.oversight.notices import announcements
from recall.desk.practice import restoring
from recall.desk.practice.setting_up import set_up
from recall.errors import InputError, Refused, StorageError
from recall.records import tables
from recall.records.database.backup import make_backup
from recall.records.database.store import Store, open_store
from recall.records.journal import history
from tests.conftest import NOW
from tests.desk.posting_week import INVITED, at_desk, settings_around, weekly_post
from tests.desk.practice import (
    FLUID,
    open_follow_ups,
    rows,
    somebody,
    visit,
)


@pytest.fixture
def config(store: Store, tmp_path: Path) -> Config:
    """A practice's settings around this test's register."""
    return settings_around(store, tmp_path)


def test_what_would_be_lost_is_shown_and_its_number_asked_for(store: Store, config: Config) -> None:
    desk = at_desk(store, config)
    child = somebody(desk)
    visit(desk, child, right=FLUID)
    saved = make_backup(store.path, config.files.backups, NOW).path
    number = open_follow_ups(store, child)[0]["id"]
    contacting.log_contact(desk, number, None, Attempt("phone", "no_answer"))
    somebody(desk, "W2")
    store.close()

    compared = restoring.rehearse(config, saved)
    assert compared.lost == {"people": 1, "contacts": 1}
    assert compared.same_history and compared.number > 0
    before = store.path.read_bytes()
    with pytest.raises(InputError, match=f"it is {compared.number}"):
        restoring.restore(config, saved, "mina", compared.number + 1)
    assert store.path.read_bytes() == before

    done = restoring.restore(config, saved, "mina", compared.number)

    again = open_store(store.path)
    assert rows(again, tables.Contact) == [] and len(rows(again, tables.Person)) == 1
    assert history.verify(again) == ()
    last = rows(again, tables.History)[-1]
    assert (last["what"], last["entity"], last["by_id"]) == ("restored", "register", 3)
    said = announcements(replace(at_desk(again, config), clock=open_desk(config, by="rob").clock))
    assert any("was restored on" in one for one in said)
    again.close()
    assert done.old is not None
    with closing(sqlite3.connect(done.old)) as connection:
        assert connection.execute("SELECT count(*) FROM contact").fetchone() == (1,)


def test_what_was_posted_after_the_backup_is_not_printed_again(
    store: Store, config: Config
) -> None:
    desk = at_desk(store, config)
    child = somebody(desk)
    visit(desk, child, right=FLUID)
    saved = make_backup(store.path, config.files.backups, NOW).path
    assert weekly_post(at_desk(store, config, INVITED)) == 1
    store.close()

    compared = restoring.rehearse(config, saved)
    done = restoring.restore(config, saved, "mina", compared.number)

    assert (done.letters, done.unknown) == (1, 0)
    again = open_store(store.path)
    (letter,) = rows(again, tables.Letter)
    assert letter["posted_on"] == INVITED
    found = failsafe.run(at_desk(again, config, INVITED)).findings
    assert found == (), "the next step is the one after the letter that left"
    assert weekly_post(at_desk(again, config, INVITED + timedelta(days=1))) == 0
    again.close()


def test_a_letter_about_what_the_backup_lacks_holds_the_next_of_its_step(
    store: Store, config: Config
) -> None:
    desk = at_desk(store, config)
    child = somebody(desk)
    saved = make_backup(store.path, config.files.backups, NOW).path
    visit(desk, child, right=FLUID)
    assert weekly_post(at_desk(store, config, INVITED)) == 1
    store.close()
    compared = restoring.rehearse(config, saved)
    assert restoring.restore(config, saved, "mina", compared.number).unknown == 1

    again = open_store(store.path)
    visit(at_desk(again, config), child, right=FLUID)
    assert weekly_post(at_desk(again, config, INVITED)) == 0
    (letter,) = rows(again, tables.Letter)
    assert letter["held_why"].endswith("before the register was restored.")
    again.close()


def test_nothing_is_put_back_while_a_desk_is_open(store: Store, config: Config) -> None:
    somebody(at_desk(store, config))
    saved = make_backup(store.path, config.files.backups, NOW).path
    compared = restoring.rehearse(config, saved)

    with store.read() as session:
        session.connection()
        with pytest.raises(Refused, match="has the register open"):
            restoring.restore(config, saved, "mina", compared.number)

    assert len(rows(store, tables.Person)) == 1
    assert [p.name for p in store.path.parent.glob(".*")] == []


@pytest.mark.parametrize("what", ["missing", "empty", "foreign", "damaged"])
def test_what_is_gone_never_becomes_an_empty_register(
    store: Store, config: Config, what: str
) -> None:
    saved = make_backup(store.path, config.files.backups, NOW).path
    store.close()
    store.path.unlink()
    if what == "empty":
        store.path.touch()
    elif what == "damaged":
        store.path.write_bytes(b"\xff" * 9000)
    elif what == "foreign":
        with closing(sqlite3.connect(store.path)) as connection:
            connection.execute("CREATE TABLE songs (name TEXT)")
    before = store.path.read_bytes() if store.path.exists() else None

    for opening in (open_register, set_up):
        given = config.files if opening is open_register else config
        with pytest.raises(StorageError) as refused:
            opening(given)  # type: ignore[operator]
        assert str(saved) in str(refused.value)
    assert (store.path.read_bytes() if store.path.exists() else None) == before

    compared = restoring.rehearse(config, saved)
    assert compared.now is None
    restoring.restore(config, saved, "mina", compared.number)
    open_register(config.files).close()


def test_a_backup_that_was_changed_is_not_put_back(store: Store, config: Config) -> None:
    somebody(at_desk(store, config))
    child = 1
    visit(at_desk(store, config), child, right=FLUID)
    saved = make_backup(store.path, config.files.backups, NOW).path
    forged = shutil.copyfile(saved, saved.with_name("forged.db"))
    with closing(sqlite3.connect(forged)) as connection:
        connection.execute("UPDATE history SET entity_id = 9 WHERE id = 1")
        connection.commit()

    with pytest.raises(Refused, match="is broken"):
        restoring.rehearse(config, forged)
