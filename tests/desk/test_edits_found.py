"""Each edit past the program is found: by the history, by its head, or by the safety check."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import select

from recall.config import Config
from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk, open_desk
from recall.desk.oversight import failsafe
from recall.desk.oversight.notices import announcements
from recall.records import tables
from recall.records.database.store import Store, open_store
from recall.records.journal import history, seals
from tests.conftest import NOW
from tests.desk.posting_week import INVITED, at_desk, settings_around, weekly_post
from tests.desk.practice import DAY, FLUID, desk_at, open_follow_ups, somebody, visit


@pytest.fixture
def config(store: Store, tmp_path: Path) -> Config:
    """A practice with a child seen, written to and rung, whose desk was open before."""
    made = settings_around(store, tmp_path)
    desk = at_desk(store, made)
    child = somebody(desk)
    visit(desk, child, right=FLUID)
    with store.write() as session:
        told = [history.Change("added", what, 1, person_id=child) for what in ("person", "visit")]
        history.append_all(session, desk.by.id, NOW, told)
    weekly_post(at_desk(store, made, INVITED))
    shutil.copyfile(store.path, tmp_path / "older.db")
    number = open_follow_ups(store, child)[0]["id"]
    later = at_desk(store, made, INVITED, by="rob")
    contacting.log_contact(later, number, None, Attempt("phone", "no_answer"))
    open_desk(made, by="rob").close()
    return made


def typed(*statements: str) -> Callable[[Path], None]:
    """Somebody opens the file with another program and types this."""

    def edit(path: Path) -> None:
        with closing(sqlite3.connect(path)) as connection:
            for statement in statements:
                assert connection.execute(statement).rowcount != 0, statement
            connection.commit()

    return edit


def an_older_copy(path: Path) -> None:
    """Put an older copy of the file in its place."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")
    shutil.copyfile(path.with_name("older.db"), path)


def a_rebuilt_chain(path: Path) -> None:
    """Leave a line out and chain the others anew, with all digests right."""
    store = open_store(path)
    with store.read() as session:
        lines = session.connection().exec_driver_sql("SELECT * FROM history ORDER BY id").all()
    store.close()
    typed(
        "DELETE FROM history_payload WHERE history_id > 0",
        "DELETE FROM history WHERE id > 0",
        "DELETE FROM history_head WHERE id > 0",
    )(path)
    store = open_store(path)
    with store.write() as session:
        kept = [history.Change("noted", line.entity, 10**6 + line.id) for line in lines]
        history.append_all(session, 1, NOW, [c for c in kept if c.entity not in seals.SEALED])
    with store.write() as session:
        while history.append_all(session, 1, NOW, [history.Change("noted", "day", 1)]) < 99:
            pass
    store.close()


EDITS: dict[str, Callable[[Path], None]] = {
    "an older copy put in place": an_older_copy,
    "a rebuilt chain": a_rebuilt_chain,
    "a deleted contact": typed("DELETE FROM contact WHERE outcome = 'no_answer'"),
    "a changed date": typed("UPDATE contact SET \"on\" = '2026-09-08'"),
    "an altered letter": typed("UPDATE letter SET body = replace(body, 'ear', 'eye')"),
    "a changed window of a due": typed("UPDATE due SET latest = '2027-10-27'"),
    "a changed urgency of a due": typed("UPDATE due SET urgency = 'low'"),
    "a deleted visit": typed(
        "DELETE FROM findings WHERE visit_id = 1",
        "UPDATE due SET visit_id = NULL",
        "DELETE FROM visit WHERE id = 1",
    ),
    "altered findings": typed(
        "UPDATE findings SET content = replace(content, 'present', 'absent')"
    ),
    "a birth date changed": typed("UPDATE person SET born = '1990-03-02'"),
    "a contact put in": typed(
        "INSERT INTO contact (person_id, follow_up_id, channel, outcome, round, step, step_no, "
        'spoke_with, by_them, note, "on", recorded_at, recorded_no, by_id) '
        "SELECT person_id, follow_up_id, 'text', outcome, round, step, step_no, spoke_with, "
        'by_them, note, "on", recorded_at, recorded_no, by_id FROM contact'
    ),
    "a line of the history changed": typed("UPDATE history SET entity_id = 9 WHERE id = 3"),
    "a line's content changed": typed(
        "UPDATE history_payload SET content = '{}' WHERE history_id = 3"
    ),
    "the last lines taken away": typed(
        "DELETE FROM history_payload WHERE history_id = (SELECT max(id) FROM history)",
        "DELETE FROM history WHERE id = (SELECT max(id) FROM history)",
    ),
}


def found(config: Config) -> list[str]:
    """What the program says of the register: its history, and its head."""
    desk: Desk = open_desk(config, by="rob")
    said = [desk.alarm] if desk.alarm else []
    said += [f"{one.seq}: {one.because}" for one in history.verify(desk.store)]
    if desk.alarm:
        assert any(desk.alarm in one for one in announcements(desk))
    desk.close()
    return said


def test_nothing_is_found_where_nothing_was_edited(config: Config) -> None:
    assert found(config) == []
    assert found(config) == []


@pytest.mark.parametrize("edit", EDITS)
def test_every_edit_is_found_and_goes_on_being_found(
    store: Store, config: Config, edit: str
) -> None:
    store.close()
    EDITS[edit](config.files.database)

    assert found(config) != []
    assert found(config) != []


@pytest.mark.parametrize("column", ["earliest", "target", "latest", "urgency"])
def test_the_safety_check_compares_what_stands_with_what_the_visit_asks(
    store: Store, config: Config, column: str
) -> None:
    desk = desk_at(store, DAY, by="nightly")
    value = {"urgency": "low", "latest": "2026-12-30", "earliest": "2026-10-01"}.get(
        column, "2026-10-14"
    )
    typed(f"UPDATE due SET {column} = '{value}' WHERE id = 1")(config.files.database)

    kinds = [one.kind for one in failsafe.run(replace(desk, config=config)).findings]

    assert "asks_otherwise" in kinds


def test_an_earlier_link_of_the_same_history_is_brought_up(store: Store, config: Config) -> None:
    head = store.path.with_name(store.path.name + ".head")
    before = head.read_bytes()
    desk = at_desk(store, config, INVITED, by="rob")
    somebody(desk, "W2")
    number = open_follow_ups(store, 1)[0]["id"]
    contacting.log_contact(desk, number, None, Attempt("phone", "left_message"))
    assert head.read_bytes() == before

    opened = open_desk(config, by="rob")
    assert opened.alarm == ""
    opened.close()
    assert head.read_bytes() != before


def test_what_was_lawfully_erased_is_no_edit(store: Store, config: Config) -> None:
    with store.write() as session:
        h = tables.History
        about = session.scalars(select(h.id).where(h.person_id == 1)).all()
        history.erase(session, 1, NOW, "asked for", about)
    assert found(config) == []
