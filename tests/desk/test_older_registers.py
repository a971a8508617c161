"""A register from before contact points were called so is read, taken back and imported into."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from msgspec import structs
from sqlalchemy import inspect, select

from recall.desk.core.acting import Act
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.people.timeline import timeline
from recall.records import tables
from recall.records.database.engine import migration_engine
from recall.records.database.store import Store, open_store
from recall.records.database.upgrade import move, upgrade
from recall.records.journal import history
from tests.conftest import NOW
from tests.desk.files import PERSON, counts, desk_with, take_in
from tests.desk.practice import rows

BEFORE = "0006"


@pytest.fixture
def older(store: Store, tmp_path: Path) -> Desk:
    """A person from a file whose number was ended today, all as it was written before."""
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    number = rows(store, tables.ContactPoint, kind="phone")[0]
    with store.write() as session:
        act = Act(desk, session, number["person_id"])
        act.set("contact_point", number["id"], until=desk.today)
        call = {"person_id": number["person_id"], "channel": "phone", "outcome": "no_answer"}
        act.add("contact", **call, contact_point_id=number["id"])
        act.changes = [in_old_words(change) for change in act.changes]
        act.finish("reach", "Ended.")
        (seen,) = session.query(tables.ImportSeen).all()
        seen.fields = re.sub("(own_[a-z]+|adults_contact)/", "contact_point/", seen.fields)
    store.close()
    move(store.path, BEFORE)
    return desk


def in_old_words(change: history.Change) -> history.Change:
    """Return a change as a line of the history before the table was renamed."""
    now = {("reach_id" if k == "contact_point_id" else k): v for k, v in change.now.items()}
    return structs.replace(change, entity=change.entity.replace("contact_point", "reach"), now=now)


def upgraded(desk: Desk) -> Desk:
    upgrade(desk.store.path, at=NOW)
    return replace(desk, store=open_store(desk.store.path))


def test_the_step_down_gives_the_old_names_back(older: Desk) -> None:
    engine = migration_engine(older.store.path)
    with engine.connect() as connection:
        look = inspect(connection)
        assert "contact_point" not in look.get_table_names()
        assert {k["name"] for k in look.get_foreign_keys("letter")} >= {"fk_letter_reach_id_reach"}
        (fields,) = connection.execute(select(tables.ImportSeen.fields)).scalars()
    engine.dispose()
    assert '"reach/' in fields and "contact_point" not in fields


def test_its_history_is_whole_and_says_contact_point(older: Desk) -> None:
    desk = upgraded(older)
    assert history.verify(desk.store) == ()
    with desk.store.read() as session:
        names = set(session.scalars(select(tables.History.entity)))
    assert "reach" in names and "contact_point" not in names
    told = [str(sentence) for sentence in timeline(desk, "P1")]
    assert any("is used no longer, from 7 September 2026." in s for s in told)


def test_what_was_done_before_is_taken_back_after(older: Desk) -> None:
    desk = upgraded(older)
    call = rows(desk.store, tables.Contact)[0]
    phone = rows(desk.store, tables.ContactPoint, kind="phone")[0]
    assert (phone["until"], call["contact_point_id"]) == (desk.today, phone["id"])
    undo(desk)
    assert rows(desk.store, tables.ContactPoint, kind="phone")[0]["until"] is None
    assert rows(desk.store, tables.Contact) == []
    assert history.verify(desk.store) == ()


def test_the_same_file_again_changes_nothing(older: Desk, tmp_path: Path) -> None:
    desk = upgraded(older)
    assert counts(take_in(desk, tmp_path, "people", PERSON)) == (0, 0, 1, 0)


def test_what_the_file_no_longer_says_goes(older: Desk, tmp_path: Path) -> None:
    """An item is known by a digest under its table's name; an unknown one would stay."""
    desk = upgraded(older)
    take_in(desk, tmp_path, "people", {**PERSON, "phone": "01632 960555"})
    held = rows(desk.store, tables.ContactPoint, kind="phone")
    assert [row["raw"] for row in held] == ["01632 960555"]
