"""Erasing what is held on one person: two keys, nothing left of who it was, again after a restore.

Source: UK GDPR, article 17(1) and (3)(b), (c): the right, and that a duty to keep outranks it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select, text, update

from recall.clock import Clock
from recall.config import Config
from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.oversight.accounts import accounts
from recall.desk.oversight.accounts_rows import state_rows
from recall.desk.oversight.failsafe import run as failsafe
from recall.desk.people.deaths import record_death
from recall.desk.people.person_card import find
from recall.desk.post.showing import preview
from recall.desk.practice import erasing, restoring
from recall.desk.practice.erasing import erase_person
from recall.errors import NotFound, Refused, StorageError
from recall.records import tables
from recall.records.database.backup import make_backup
from recall.records.database.store import Store, open_store
from recall.records.journal import history
from recall.records.people import held
from recall.records.people.erasing import KEPT_WORDS, blanked
from tests.bare import on_disk
from tests.conftest import NOW
from tests.desk.posting_week import INVITED, at_desk, settings_around, weekly_post
from tests.desk.practice import FLUID, KERATIN, open_follow_ups, rows, somebody, visit
from tests.desk.test_accounts import ALL

NAME, WHY = "Rowan Thackwell", "eight years after the last visit"
WHO = (b"Thackwell", b"Rowan", b"Teasel", b"960321", b"WR9 9ZX", b"W1573", b"2020-03-02", b"Quill,")
AFTER = INVITED + timedelta(days=3)


@pytest.fixture
def config(store: Store, tmp_path: Path) -> Config:
    """A practice's settings around this test's register."""
    return settings_around(store, tmp_path)


def seen_and_written_to(store: Store, config: Config) -> int:
    """A child who was seen, written to and rung; then nothing is open any more."""
    desk = at_desk(store, config)
    child = somebody(desk, "W1573")
    visit(desk, child, right=FLUID, left=KERATIN)
    assert weekly_post(at_desk(store, config, INVITED)) >= 1
    number = open_follow_ups(store, child)[0]["id"]
    said = Attempt("phone", "no_answer", note="Rowan's aunt says he is at Teasel Row.")
    contacting.log_contact(at_desk(store, config, INVITED), number, None, said)
    return child


def nothing_open(store: Store, config: Config, ref: str = "W1573") -> None:
    record_death(at_desk(store, config, INVITED), ref, INVITED, NAME)


def both_keys(store: Store, config: Config) -> erasing.Outcome:
    assert not erase_person(at_desk(store, config, AFTER), "W1573", NAME, WHY).done
    return erase_person(at_desk(store, config, AFTER, by="mina"), "W1573", NAME, WHY)


def files_below(*folders: Path) -> list[Path]:
    return [path for folder in folders for path in folder.rglob("*") if path.is_file()]


def telling(paths: list[Path]) -> set[tuple[str, bytes]]:
    """Which files say who it was."""
    held = {path.name: path.read_bytes() for path in paths}
    return {(name, word) for name, kept in held.items() for word in WHO if word in kept}


def told_by(store: Store) -> set[bytes]:
    """What the bytes in which a closed register lies say of who it was."""
    lies = on_disk(store.path)
    return {word for word in WHO if word in lies}


def test_nothing_that_says_who_it_was_is_left(store: Store, config: Config) -> None:
    seen_and_written_to(store, config)
    nothing_open(store, config)
    store.engine.dispose()
    in_letters = {word for _name, word in telling(files_below(config.files.letters))}
    assert told_by(store) | in_letters >= {b"Thackwell", b"Teasel", b"W1573"}
    assert told_by(store)

    came = both_keys(store, config)

    assert came.done and came.rows > 10 and came.files >= 2 and not came.to_do
    store.engine.dispose()
    beside = [p for p in files_below(store.path.parent) if p.name.startswith(store.path.name)]
    assert beside
    assert told_by(store) == set()
    assert telling([*beside, *files_below(config.files.letters)]) == set()
    assert not [*config.files.letters.glob("letters-*.pdf")]


def test_the_history_and_the_register_stay_whole(store: Store, config: Config) -> None:
    child = seen_and_written_to(store, config)
    nothing_open(store, config)
    kept = {t: len(rows_of(store, t)) for t in (tables.Visit, tables.Due, tables.Contact)}
    counted = state_rows(accounts(at_desk(store, config, AFTER), ALL))
    assert sum(row.asks for row in counted) > 0
    lines = len(rows(store, tables.History))
    both_keys(store, config)

    assert history.verify(store) == ()
    assert history.erased(store) > lines / 2
    assert {t: len(rows_of(store, t)) for t in kept} == kept
    assert state_rows(accounts(at_desk(store, config, AFTER), ALL)) == counted
    with pytest.raises(NotFound):
        held_by_reference(store, config)
    desk = at_desk(store, config, AFTER)
    assert not find(desk, "Thackwell", 10)
    (batch,) = rows(store, tables.Batch)
    assert preview(desk, batch["number"]) == ()
    (person,) = rows_of(store, tables.Person)
    assert (person["id"], person["born"].isoformat()) == (child, "2020-01-01")
    last = rows(store, tables.History)[-1]
    assert (last["what"], last["by_id"], last["person_id"]) == ("person_erased", 3, child)
    assert failsafe(desk).findings == ()


def rows_of(store: Store, table: type) -> list:
    """Every row of a table, voided or not."""
    with store.read() as session:
        return list(session.execute(select(table.__table__)).mappings())


def held_by_reference(store: Store, config: Config) -> None:
    erase_person(at_desk(store, config, AFTER, by="mina"), "W1573", NAME, WHY)


def test_a_line_that_was_blanked_past_the_program_is_still_found(
    store: Store, config: Config
) -> None:
    seen_and_written_to(store, config)
    nothing_open(store, config)
    both_keys(store, config)
    with store.write() as session:
        payload = tables.HistoryPayload
        mine = session.scalars(select(payload.history_id).where(payload.content.is_not(None)))
        number = list(mine)[-1]
        blank = {"content": None, "salt": None}
        session.execute(update(payload).where(payload.history_id == number).values(**blank))
    assert [b.seq for b in history.verify(store)] == [number]


def test_it_takes_two(store: Store, config: Config) -> None:
    seen_and_written_to(store, config)
    nothing_open(store, config)
    clara, mina = at_desk(store, config, AFTER), at_desk(store, config, AFTER, by="mina")
    with pytest.raises(Refused, match=r"rob .* may not"):
        erase_person(at_desk(store, config, AFTER, by="rob"), "W1573", NAME, WHY)
    with pytest.raises(Refused, match="typed name"):
        erase_person(clara, "W1573", "Rowan Orrell", WHY)
    assert not erase_person(clara, "W1573", NAME, WHY).done
    with pytest.raises(Refused, match="a second one has to do it"):
        erase_person(clara, "W1573", NAME, WHY)
    late = at_desk(store, config, AFTER + timedelta(days=15), by="mina")
    assert not erase_person(late, "W1573", NAME, WHY).done  # the first key is too old
    assert rows(store, tables.Visit)[0]["note"] == ""
    assert erase_person(replace(clara, clock=late.clock), "W1573", NAME, WHY).done
    assert mina.by.id != clara.by.id


def test_whoever_works_alone_does_it_on_another_day(store: Store, config: Config) -> None:
    seen_and_written_to(store, config)
    nothing_open(store, config)
    with store.write() as session:
        session.execute(text("UPDATE staff SET left_on = '2026-01-01' WHERE handle <> 'clara'"))
    desk = at_desk(store, config, AFTER)
    assert not erase_person(desk, "W1573", NAME, WHY).done
    with pytest.raises(Refused, match="asked for today"):
        erase_person(desk, "W1573", NAME, WHY)
    tomorrow = replace(desk, clock=Clock.at(AFTER + timedelta(days=1)))
    assert erase_person(tomorrow, "W1573", NAME, WHY).done


def test_nobody_is_erased_for_whom_something_is_open(store: Store, config: Config) -> None:
    seen_and_written_to(store, config)
    with pytest.raises(Refused, match=r"Something is open for them: \d follow-up"):
        erase_person(at_desk(store, config, AFTER), "W1573", NAME, WHY)


def test_whoever_was_erased_after_the_backup_is_erased_again_when_it_is_put_back(
    store: Store, config: Config
) -> None:
    desk = at_desk(store, config)
    seen_and_written_to(store, config)
    other = somebody(desk, "W2", given_names="Ada", family_name="Orrell")
    saved = make_backup(store.path, config.files.backups, NOW).path
    nothing_open(store, config)
    assert both_keys(store, config).done
    store.close()
    store.path.with_name(store.path.name + ".erased").unlink()  # the copy with the backups is left

    compared = restoring.rehearse(config, saved)
    done = restoring.restore(config, saved, "mina", compared.number)

    assert done.erased == 1
    assert told_by(store) == told_of_others()
    again = open_store(store.path)
    assert [row["id"] for row in rows(again, tables.Person)] == [other]
    assert open_follow_ups(again, 1) == []
    assert history.verify(again) == ()
    again.close()


def told_of_others() -> set[bytes]:
    """What the other child of these tests shares with the first: mother, address, number."""
    return {b"Thackwell", b"Teasel", b"960321", b"WR9 9ZX", b"2020-03-02", b"Quill,"}


def test_somebody_else_who_got_the_same_number_since_is_not_erased(
    store: Store, config: Config
) -> None:
    """A backup from before them is put back, and goes on: its next person is another one."""
    empty = make_backup(store.path, config.files.backups, NOW).path
    seen_and_written_to(store, config)
    nothing_open(store, config)
    both_keys(store, config)
    store.close()
    restoring.restore(config, empty, "mina", restoring.rehearse(config, empty).number)
    again = open_store(store.path)
    late = at_desk(again, config, AFTER)
    assert somebody(late, "W9") == 1
    saved = make_backup(again.path, config.files.backups, NOW + timedelta(hours=1)).path
    again.close()
    done = restoring.restore(config, saved, "mina", restoring.rehearse(config, saved).number)
    assert done.erased == 0


def test_a_list_that_cannot_be_read_stops_the_restore(store: Store, config: Config) -> None:
    somebody(at_desk(store, config))
    saved = make_backup(store.path, config.files.backups, NOW).path
    store.close()
    (config.files.backups / f"{store.path.name}.erased").write_text("{")
    expect = restoring.rehearse(config, saved).number
    with pytest.raises(StorageError, match="list of who was erased"):
        restoring.restore(config, saved, "mina", expect)


def test_every_text_of_theirs_is_blanked_or_a_word_of_the_programs_own() -> None:
    """A column that is added later is blanked: what stays was looked at by hand."""
    for table, _wanted in held.theirs(1):
        stays = KEPT_WORDS.get(table.name, frozenset())
        assert stays <= {column.name for column in table.c}, table.name
        assert not stays & blanked(table).keys()
    free = {"note", "text", "why", "says", "body", "name", "raw", "value", "spoke_with", "ref"}
    assert not [(t, n) for t, names in KEPT_WORDS.items() for n in names if n in free]
