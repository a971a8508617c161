"""A register full of life, from before acts were per person: all that was tried goes on counting.

It is lived in at random, taken back to the revision before, where nothing says what else an act
was about, and brought up again.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import select, text, update

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.core.replanning import refresh
from recall.desk.core.session import Desk
from recall.desk.post.batches import prepare
from recall.desk.post.choosing import written_for
from recall.desk.post.posting import mark_posted
from recall.errors import RecallError
from recall.records import tables
from recall.records.database.engine import migration_engine
from recall.records.database.store import Store, open_store
from recall.records.database.upgrade import move, upgrade
from recall.records.facts.events import facts_for
from recall.records.journal import history
from tests.conftest import NOW
from tests.desk.practice import CLEAR, DAY, FLUID, KERATIN, desk_at, rows, somebody, visit
from tests.desk.test_per_person import WAX

BEFORE = "0013"
OUTCOMES = ("no_answer", "left_message", "will_call_back", "wants_letter", "away", "worse")


def live(store: Store) -> Desk:
    """Twelve people through twenty weeks of calls, letters, appointments and visits."""
    luck = random.Random(11)
    desk = desk_at(store)
    ears = (FLUID, CLEAR, KERATIN, WAX)
    for number in range(12):
        born = DAY - timedelta(days=luck.choice((2000, 20000)))
        person = somebody(desk, f"W{number}", born=born, adult=born.year > 2010)
        visit(desk, person, right=luck.choice(ears), left=luck.choice(ears))
    for _week in range(20):
        desk = desk_at(store, desk.today + timedelta(days=7))
        for row in rows(store, tables.FollowUp, is_open=True):
            if row["next_step_on"] <= desk.today:
                _act(desk, row["id"], luck)
        _letters(desk)
    return desk


def _act(desk: Desk, number: int, luck: random.Random) -> None:
    try:
        if luck.random() < 0.2:
            starts = datetime.combine(desk.today + timedelta(days=9), datetime.min.time())
            given = Booking(starts.replace(hour=10), why_late="no earlier time")
            bookings.book(desk, number, None, given)
        else:
            given_by = Attempt("phone", luck.choice(OUTCOMES))
            contacting.log_contact(desk, number, None, given_by)
    except RecallError:
        return


def _letters(desk: Desk) -> None:
    """Write, print without pages, and post."""
    made = prepare(desk)
    if made.number is None or not made.written:
        return
    with desk.store.write() as session:
        table = tables.Batch.__table__
        session.execute(
            update(table).where(table.c.id == made.batch_id).values(printed_at=desk.now)
        )
        table = tables.Letter.__table__
        mine = table.c.batch_id == made.batch_id
        session.execute(update(table).where(mine).values(printed_at=desk.now))
    mark_posted(desk, made.number)


@pytest.fixture
def lived(store: Store) -> Desk:
    """The register after twenty weeks, as the revision before knows it."""
    desk = live(store)
    store.close()
    move(store.path, BEFORE)
    return desk


NEW = {"contact": ("until_at",), "contact_point": ("best_time",)}
"""Columns that came with later revisions."""


def contents(store_path: Any) -> dict[str, list[tuple[Any, ...]]]:
    """All rows of all tables but the one that is new, without the columns that are."""
    engine = migration_engine(store_path)
    with engine.connect() as connection:
        found = {}
        for name, table in sorted(tables.Base.metadata.tables.items()):
            if name == "also_about":
                continue
            columns = ", ".join(f'"{c.name}"' for c in table.c if c.name not in NEW.get(name, ()))
            every = connection.execute(text(f'SELECT {columns} FROM "{name}"'))
            found[name] = [tuple(row) for row in every]
    engine.dispose()
    return found


def test_nothing_that_was_tried_is_lost_and_no_letter_is_asked_for_twice(lived: Desk) -> None:
    before = contents(lived.store.path)
    upgrade(lived.store.path, at=NOW)
    assert contents(lived.store.path) == before
    assert len(before["contact"]) > 40 and len(before["letter"]) > 10 and before["booking"]

    desk = replace(lived, store=open_store(lived.store.path))
    named: dict[str, dict[int, int]] = {"contact": {}, "letter": {}, "booking": {}}
    for table in (tables.Contact, tables.Letter, tables.Booking):
        for row in rows(desk.store, table):
            of = named[table.__tablename__]
            of[row["follow_up_id"]] = of.get(row["follow_up_id"], 0) + 1
    numbers = [row["id"] for row in rows(desk.store, tables.FollowUp)]
    with desk.store.read() as session:
        known = facts_for(session, numbers)
        keys = {(r["follow_up_id"], r["round"], r["step"]) for r in rows(desk.store, tables.Letter)}
        assert written_for(session, numbers) == keys
    for number in numbers:
        kinds = [type(event).__name__ for event in known[number].events]
        assert kinds.count("Contact") == named["contact"].get(number, 0)
        assert kinds.count("Booked") == named["booking"].get(number, 0)

    with desk.store.write() as session:
        refresh(desk, session, list(session.scalars(select(tables.Person.id))))
    for row in rows(desk.store, tables.FollowUp, is_open=True):
        assert (row["id"], row["round"], row["step"]) not in keys
        assert row["next_step_on"] is not None
    assert history.verify(desk.store) == ()
