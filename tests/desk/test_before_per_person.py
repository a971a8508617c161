"""A register full of life, from before acts were per person: all that was tried goes on counting.

Sixty people are lived with for 240 days as it was then: whatever was done counted for the one
follow-up that it named. The register is taken back to the revision before, brought up again, and
lived with for some weeks more.
"""

from __future__ import annotations

import random
import shutil
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import delete, select, text, update

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.core.replanning import refresh
from recall.desk.core.session import Desk
from recall.desk.plans.passing_time import bring_up_to_date
from recall.desk.post.batches import prepare
from recall.desk.post.choosing import written_for
from recall.desk.post.posting import mark_posted
from recall.errors import RecallError
from recall.protocol.contact_steps import LETTER_STEPS, STEP
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
LAST = DAY + timedelta(days=240)
OUTCOMES = ("no_answer", "left_message", "will_call_back", "wants_letter", "away", "worse")


PEOPLE, WEEKS, CALLS = 60, 34, 5
"""How long they are lived with: 34 weeks and the two days of the last are 240 days."""


def live(store: Store) -> Desk:
    """Calls, letters, appointments and visits, each about one follow-up, as it was then."""
    luck = random.Random(11)
    desk = desk_at(store)
    ears = (FLUID, CLEAR, KERATIN, WAX)
    for number in range(PEOPLE):
        born = DAY - timedelta(days=luck.choice((2000, 20000)))
        person = somebody(desk, f"W{number}", born=born, adult=born.year > 2010)
        visit(desk, person, right=luck.choice(ears), left=luck.choice(ears))
    for week in range(1, WEEKS + 1):
        desk = desk_at(store, DAY + timedelta(days=7 * week))
        bring_up_to_date(desk.acting_as("nightly"))
        due = [f for f in rows(store, tables.FollowUp, is_open=True) if _is_due(f, desk.today)]
        for n, row in enumerate(luck.sample(due, min(CALLS, len(due)))):
            _act(_a_minute_later(desk, n), row["id"], luck)
        _letters(_a_minute_later(desk, CALLS))
        forget_what_else(desk)
    final = desk_at(store, LAST)
    bring_up_to_date(final.acting_as("nightly"))
    return final


def _a_minute_later(desk: Desk, minutes: int) -> Desk:
    """The same desk: rows of that time are put in order by their instants alone."""
    return replace(desk, clock=desk.clock.held_at(desk.now + timedelta(minutes=minutes)))


def _is_due(row: Any, on: date) -> bool:
    return bool(row["next_step_on"] <= on) and row["step"] not in LETTER_STEPS


def forget_what_else(desk: Desk) -> None:
    """Let acts have been about what they name alone."""
    also, follow_up = tables.AlsoAbout, tables.FollowUp
    whose = select(follow_up.person_id).join(also, also.follow_up_id == follow_up.id)
    with desk.store.write() as session:
        people = sorted(set(session.scalars(whose)))
        session.execute(delete(also))
        refresh(desk, session, people)


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


@pytest.fixture(scope="module")
def before(empty_register: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The register after that time, as the revision before knows it."""
    path = tmp_path_factory.mktemp("before") / "register.db"
    shutil.copyfile(empty_register, path)
    store = open_store(path)
    live(store)
    store.close()
    move(path, BEFORE)
    return path


@pytest.fixture
def old(before: Path, tmp_path: Path) -> Path:
    """This test's own copy of it."""
    path = tmp_path / "register.db"
    shutil.copyfile(before, path)
    return path


@pytest.fixture
def desk(old: Path) -> Iterator[Desk]:
    """A desk at the register when it has been brought up, on the day after."""
    upgrade(old, at=NOW)
    store = open_store(old)
    yield desk_at(store, LAST)
    store.close()


NEW = {"contact": ("until_at",), "contact_point": ("best_time",), "staff": ("sites",)}
"""Columns that came with later revisions, beside the history's number."""
NEW_TABLES = ("also_about", "diary_count", "looked", "register", "signed_in", "staff_account",
              "staff_password")  # fmt: skip


def broken_on_the_way(store: Store) -> tuple[history.Broken, ...]:
    """What is broken of the history by columns that the revision before has not, and that alone."""
    found = history.verify(store)
    lost = tuple(f"{name} " for name in NEW)
    assert all(each.because.startswith(lost) for each in found), found
    return found


def contents(store_path: Any) -> dict[str, list[tuple[Any, ...]]]:
    """All rows of all tables but those that are new, without the columns that are."""
    engine = migration_engine(store_path)
    with engine.connect() as connection:
        found = {}
        for name, table in sorted(tables.Base.metadata.tables.items()):
            if name in NEW_TABLES:
                continue
            new = {"recorded_no", *NEW.get(name, ())}
            columns = ", ".join(f'"{c.name}"' for c in table.c if c.name not in new)
            every = connection.execute(text(f'SELECT {columns} FROM "{name}"'))
            found[name] = [tuple(row) for row in every]
    engine.dispose()
    return found


def test_nothing_that_stood_there_is_lost(old: Path) -> None:
    before = contents(old)
    upgrade(old, at=NOW)
    assert contents(old) == before
    assert len(before["person"]) == PEOPLE
    assert len(before["contact"]) > 100 and len(before["letter"]) > 30
    assert len(before["booking"]) > 5


def test_what_was_tried_counts_for_what_it_named_and_for_nothing_else(desk: Desk) -> None:
    assert rows(desk.store, tables.AlsoAbout) == []
    named = {
        what: Counter(row["follow_up_id"] for row in rows(desk.store, table))
        for what, table in (("Contact", tables.Contact), ("Booked", tables.Booking))
    }
    named["Posted"] = Counter(
        row["follow_up_id"]
        for row in rows(desk.store, tables.Letter)
        if row["posted_on"] and row["step"] in STEP
    )
    numbers = [row["id"] for row in rows(desk.store, tables.FollowUp)]
    with desk.store.read() as session:
        known = facts_for(session, numbers)
        assert written_for(session, numbers) == written(desk)
    for number in numbers:
        kinds = Counter(type(event).__name__ for event in known[number].events)
        for what, counted in named.items():
            assert kinds[what] == counted[number], (number, what)


def written(desk: Desk) -> set[tuple[int, int, str]]:
    """The letters that there are or were, by follow-up, round and step."""
    letters = rows(desk.store, tables.Letter)
    return {(r["follow_up_id"], r["round"], r["step"]) for r in letters if not r["pulled_why"]}


def test_nobody_stands_at_another_step(desk: Desk) -> None:
    """Where the last night before left each follow-up, the first night after finds it."""
    before, lost = standing(desk), broken_on_the_way(desk.store)
    assert len(before) > PEOPLE // 2
    assert len({step for step, *_rest in before.values()}) > 4
    with desk.store.write() as session:
        refresh(desk, session, list(session.scalars(select(tables.Person.id))))
    assert standing(desk) == before
    assert not written(desk) & {(n, turn, step) for n, (step, turn, _on) in before.items()}
    assert history.verify(desk.store) == lost


def standing(desk: Desk) -> dict[int, tuple[str, int, date]]:
    return {
        row["id"]: (row["step"], row["round"], row["next_step_on"])
        for row in rows(desk.store, tables.FollowUp, is_open=True)
    }


def test_no_letter_goes_out_again_in_the_weeks_after(desk: Desk) -> None:
    had, lost = written(desk), broken_on_the_way(desk.store)
    for week in range(1, 9):
        then = desk_at(desk.store, LAST + timedelta(days=7 * week))
        bring_up_to_date(then.acting_as("nightly"))
        _letters(then)
    letters = [row for row in rows(desk.store, tables.Letter) if not row["pulled_why"]]
    again = Counter((r["follow_up_id"], r["round"], r["step"], r["home"]) for r in letters)
    also = [(r["follow_up_id"], r["round"], r["step"]) for r in rows(desk.store, tables.AlsoAbout)]
    assert len(written(desk)) > len(had) and also
    assert max(again.values()) == 1
    assert len(also) == len(set(also)) and not written(desk) & set(also)
    assert history.verify(desk.store) == lost
