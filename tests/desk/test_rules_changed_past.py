"""The adopted rules decide about people: changed past the program, nobody is planned by them."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import msgspec
import pytest

from recall.config import Config
from recall.desk.core.session import open_desk
from recall.desk.plans.adoption import adopt
from recall.errors import StorageError
from recall.protocol.loading import Protocol, load
from recall.records.database.store import Store
from recall.records.journal import history, seals
from tests.desk.posting_week import at_desk, settings_around
from tests.desk.practice import FLUID, somebody, visit


@pytest.fixture
def config(store: Store, tmp_path: Path) -> Config:
    """A practice that has planned a child, and so adopted the rules of its file."""
    made = settings_around(store, tmp_path)
    desk = at_desk(store, made)
    visit(desk, somebody(desk), right=FLUID)
    return made


def adopt_another(config: Config) -> None:
    """The lead adopts the same rules as another version: its digest is not its content's."""
    desk = open_desk(config, by="clara")
    default = load()
    file = msgspec.structs.replace(default.file, version="of the house")
    adopt(desk, Protocol(file, default.contact, "of the house", True))
    desk.close()


def change(config: Config, before: str, after: str) -> None:
    """Somebody opens the file with another program and changes the rules."""
    with closing(sqlite3.connect(config.files.database)) as connection:
        said = "UPDATE protocol SET content = replace(content, ?, ?) WHERE instr(content, ?)"
        assert connection.execute(said, (before, after, before)).rowcount
        connection.commit()


@pytest.mark.parametrize("another", [False, True])
@pytest.mark.parametrize(("before", "after"), [("weeks", "years"), ('{"', "{"), ("[", "")])
def test_changed_rules_open_no_desk(config: Config, another: bool, before: str, after: str) -> None:
    if another:
        adopt_another(config)
    change(config, before, after)

    with pytest.raises(StorageError) as refused:
        open_desk(config, by="clara")

    assert "are not as they were adopted" in refused.value.message
    assert "recall restore" in refused.value.hint


@pytest.mark.parametrize("another", [False, True])
def test_rules_as_they_were_adopted_open_it(config: Config, another: bool) -> None:
    if another:
        adopt_another(config)

    desk = open_desk(config, by="clara")

    assert desk.protocol.version == ("of the house" if another else load().version)
    assert history.verify(desk.store) == ()
    desk.close()


def test_the_history_tells_which_rules_were_changed(config: Config, store: Store) -> None:
    adopt_another(config)
    change(config, "weeks", "years")

    (broken,) = history.verify(store)

    assert broken.because == "protocol 2 is not as the history has it"


def test_rules_adopted_before_they_were_sealed_are_taken(
    config: Config, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.delitem(seals.SEALED, "protocol")
        adopt_another(config)

    desk = open_desk(config, by="clara")

    assert desk.protocol.version == "of the house"
    desk.close()
