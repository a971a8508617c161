"""Eight processes at one register: nothing is done twice or lost, and the history is one chain.

The long form, by hand: `RECALL_ROUNDS=200 pytest tests/desk/test_eight_at_once.py`.
"""

from __future__ import annotations

import os
import random
from collections import Counter
from contextlib import suppress
from pathlib import Path
from typing import Any

from sqlalchemy import select, update

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.post import batches
from recall.errors import Conflict, StorageError
from recall.records import tables
from recall.records.database.store import Store, open_store
from recall.records.journal import history
from recall.records.tables.statements import table_of
from tests.desk.posting import child_with_fluid, first_letter_day, on
from tests.desk.practice import desk_at, later, open_follow_ups, rows, with_files
from tests.jobs.children import PROCESSES

EIGHT = 8
ROUNDS = int(os.environ.get("RECALL_ROUNDS", "6"))
WHO = ("rob", "mina", "clara")


def at_once(work: Any, path: Path, *more: Any) -> list[Any]:
    """Let eight processes do one thing, and return what each of them told."""
    told = PROCESSES.SimpleQueue()
    started = [
        PROCESSES.Process(target=_run, args=(work, path, number, told, *more))
        for number in range(EIGHT)
    ]
    for process in started:
        process.start()
    found = [told.get() for _ in started]
    for process in started:
        process.join()
    assert [process.exitcode for process in started] == [0] * EIGHT
    return found


def _run(work: Any, path: Path, number: int, told: Any, *more: Any) -> None:
    store = open_store(path)
    try:
        told.put(work(store, number, *more))
    except BaseException as error:
        told.put(repr(error))
        raise
    finally:
        store.close()


def count_up(store: Store, _number: int) -> int:
    """Read a number, then write it one larger: a lost update would not count."""
    staff = table_of(tables.Staff)
    for _ in range(ROUNDS):
        with store.write() as session:
            name = session.scalar(select(staff.c.title).where(staff.c.id == 2))
            more = str(int(name or 0) + 1)
            session.execute(update(staff).where(staff.c.id == 2).values(title=more))
    return ROUNDS


def ring(store: Store, number: int, follow_ups: list[int]) -> Counter[str]:
    """Take somebody in hand, log what came of it with the version that was seen, let go."""
    desk = later(desk_at(store, by=WHO[number % 3]), 40)
    chance, came = random.Random(number), Counter[str]()
    for _ in range(ROUNDS):
        mine = chance.choice(follow_ups)
        with store.read() as session:
            f = tables.FollowUp
            version = session.scalars(select(f.version).where(f.id == mine)).one()
        try:
            contacting.log_contact(desk, mine, version, Attempt("phone", "no_answer"))
        except Conflict:
            came["conflict"] += 1
        except StorageError as error:
            assert "locked" in str(error)
            came["waited too long"] += 1
        else:
            came["logged"] += 1
    return came


def claim_all(store: Store, number: int, follow_ups: list[int]) -> list[int]:
    """Take in hand whatever nobody has, each by a name of its own."""
    with store.read() as session:
        handle = session.scalars(
            select(tables.Staff.handle).where(tables.Staff.name == f"Caller {number}")
        ).one()
    desk, mine = desk_at(store, by=handle), []
    for one in random.Random(number).sample(follow_ups, len(follow_ups)):
        with suppress(Conflict):
            contacting.claim(desk, one)
            mine.append(one)
    return mine


def write_letters(store: Store, number: int, folder: Path, day: Any) -> int:
    """Write the week's letters, all at the same time."""
    desk = with_files(desk_at(store, day, by="clara"), letters=folder, database=store.path)
    try:
        return batches.prepare(desk).written
    except Conflict:
        return 0


def test_no_update_is_lost(store: Store) -> None:
    path = store.path
    store.close()

    assert sum(at_once(count_up, path)) == EIGHT * ROUNDS

    again = open_store(path)
    assert {row["title"] for row in rows(again, tables.Staff) if row["id"] == 2} == {
        str(EIGHT * ROUNDS)
    }
    again.close()


def test_every_call_is_logged_once_and_the_history_stays_one_chain(store: Store) -> None:
    desk = desk_at(store)
    people = [child_with_fluid(desk, f"W{number}") for number in range(5)]
    follow_ups = [open_follow_ups(store, person)[0]["id"] for person in people]
    path = store.path
    store.close()

    came = sum(at_once(ring, path, follow_ups), Counter[str]())

    again = open_store(path)
    assert came.total() == EIGHT * ROUNDS
    assert len(rows(again, tables.Contact)) == came["logged"] > 0
    assert history.verify(again) == ()
    again.close()


def test_one_is_in_one_hand(store: Store) -> None:
    desk = desk_at(store)
    people = [child_with_fluid(desk, f"W{number}") for number in range(12)]
    follow_ups = [open_follow_ups(store, person)[0]["id"] for person in people]
    with store.write() as session:
        for number in range(EIGHT):
            name = f"Caller {number}"
            session.add(tables.Staff(handle=f"caller{number}", name=name, role="reception"))
    path = store.path
    store.close()

    taken = at_once(claim_all, path, follow_ups)

    assert sorted(one for mine in taken for one in mine) == sorted(follow_ups)


def test_each_letter_is_written_once(store: Store, tmp_path: Path) -> None:
    desk = desk_at(store)
    people = [child_with_fluid(desk, f"W{number}") for number in range(6)]
    day = on(desk, first_letter_day(desk, people[0])).today
    path = store.path
    store.close()

    at_once(write_letters, path, tmp_path / "letters", day)

    again = open_store(path)
    letters = Counter(
        (row["follow_up_id"], row["step"], row["round"]) for row in rows(again, tables.Letter)
    )
    assert len(letters) == len(people) and set(letters.values()) == {1}
    assert history.verify(again) == ()
    again.close()
