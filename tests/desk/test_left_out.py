"""One row that cannot be read: letters and the nightly check do all the rest, and name it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core import replanning
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe, notices
from recall.desk.oversight.alarm import Alarm
from recall.desk.oversight.checked import checked
from recall.desk.plans import passing_time
from recall.desk.post import cover
from recall.desk.post.batches import prepare
from recall.desk.post.posting import mark_posted, pile_of
from recall.desk.post.printing import print_batch
from recall.desk.practice.job_runs import DueRun, Run, claim
from recall.desk.practice.timetable import JOBS
from recall.errors import StorageError
from recall.jobs import nightly
from recall.records import tables
from recall.records.database import set_aside
from recall.records.database.store import Store, open_store
from recall.records.tables.base import Base
from tests.desk.posting_week import INVITED, at_desk, settings_around
from tests.desk.practice import FLUID, desk_at, open_follow_ups, rows, somebody, visit

ODD = {
    "a birth date": ("person", "born", "'20xx'"),
    "no text": ("person", "family_name", "CAST(X'80FF41' AS TEXT)"),
    "findings": ("findings", "content", "'{'"),
    "what was reported": ("visit", "reported", "'['"),
    "the day of a step": ("follow_up", "next_step_on", "'soon'"),
    "a word that no row has": ("due", "urgency", "'later'"),
    "when it was recorded": ("contact_point", "recorded_at", "'then'"),
    "a number that is none": ("contact_point", "recorded_no", "'first'"),
    "how a call ended": ("contact", "outcome", "'nothing'"),
    "until what hour": ("contact", "until_at", "'noon'"),
    "an address": ("contact_point", "checked_on", "'x'"),
    "an adult": ("adult_for", "since", "'x'"),
}
"""A value in the first row of a table, which is about the first of two children."""


@pytest.fixture
def damaged(store: Store, tmp_path: Path) -> Iterator[Desk]:
    """Two children to be written to, opened anew in the practice's own folders."""
    made = desk_at(store)
    for ref in ("W1", "W2"):
        visit(made, somebody(made, ref), right=FLUID)
    (first,) = open_follow_ups(store, 1)
    contacting.log_contact(made, first["id"], None, Attempt("phone", "no_answer"))
    config = settings_around(store, tmp_path)
    store.close()
    found = open_store(store.path)
    yield replace(at_desk(found, config, INVITED), clock=made.clock)
    found.close()


def damage(desk: Desk, table: str, column: str, value: str) -> str:
    """Change a row by hand, past every constraint; return which."""
    with closing(sqlite3.connect(desk.store.path)) as connection:
        connection.execute("PRAGMA ignore_check_constraints=ON")
        changed = f'UPDATE {table} SET "{column}" = {value} WHERE id = 1'
        assert connection.execute(changed).rowcount == 1
        connection.commit()
    return f"W1: row 1 of {table}"


@contextmanager
def anew(desk: Desk, days: int = 0, by: str = "clara") -> Iterator[Desk]:
    """The same register by another process, so many days after the letters are due."""
    store = open_store(desk.store.path)
    try:
        yield at_desk(store, desk.config, INVITED + timedelta(days=days), by)
    finally:
        store.close()


def told(desk: Desk, what: str) -> list[str]:
    """Return the alarms of Today that say something."""
    return [s for s in notices.announcements(desk) if isinstance(s, Alarm) and what in s]


@pytest.mark.parametrize("what", ODD)
def test_the_others_get_their_letters_and_are_checked(damaged: Desk, what: str) -> None:
    with anew(damaged, by="nightly") as desk:
        row = damage(desk, *ODD[what])
        replanning.mark_everybody(desk)
        replanning.replan(desk)
        passing_time.bring_up_to_date(desk)
        found = failsafe.run(desk)
        assert (found.people, found.counts) == (1, {"cannot_be_read": 1})
        assert found.findings[0].says.startswith(row)
    with anew(damaged) as desk:
        made = prepare(desk)
        assert made.batch_id is not None
        printed = print_batch(desk, made.batch_id)
        assert (printed.letters, printed.differs) == (made.written, ())
        wrote = [x["person_id"] for x in rows(desk.store, tables.Letter)]
        assert (wrote, made.left_out) == ([2], (row,))
        mark_posted(desk, printed.number)
    with anew(damaged) as desk:
        (line,) = checked(desk).breaks
        assert line.is_break and line.says.startswith(row)
        assert told(desk, row)


def test_who_was_left_out_is_said_by_the_letters_and_on_their_cover(
    damaged: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    covers = []
    monkeypatch.setattr(cover, "make_cover", lambda said, _path: covers.append(said))
    with anew(damaged) as desk:
        row = damage(desk, *ODD["the day of a step"])
        made = prepare(desk)
        assert made.batch_id is not None and made.left_out == (row,)
        assert print_batch(desk, made.batch_id).left_out == (row,)
        (said,) = [x for x in covers[0].lists if "cannot be read" in x.heading]
        assert said.rows == (row,)


def test_a_letter_of_theirs_that_was_written_before_is_not_printed(damaged: Desk) -> None:
    with anew(damaged) as desk:
        made = prepare(desk)
        assert made.batch_id is not None and (made.written, made.left_out) == (2, ())
        row = damage(desk, "letter", "on", "'x'")
    with anew(damaged) as desk:
        printed = print_batch(desk, made.batch_id)
        assert (printed.letters, printed.left_out) == (1, (row,))


@pytest.mark.parametrize("what", ["a birth date", "no text"])
def test_their_printed_letter_comes_off_the_pile_and_the_others_leave(
    damaged: Desk, what: str
) -> None:
    with anew(damaged) as desk:
        made = prepare(desk)
        assert made.batch_id is not None
        number = print_batch(desk, made.batch_id).number
        row = damage(desk, *ODD[what])
    with anew(damaged) as desk:
        pile = pile_of(desk, number)
        (off,) = pile.off
        assert (pile.letters, off.number, off.because) == (
            1,
            f"{number}-0001",
            f"this record cannot be read ({row})",
        )
        assert mark_posted(desk, number, 1) == pile.off
        left = {x["person_id"]: x["posted_on"] for x in rows(desk.store, tables.Letter)}
        assert left == {2: desk.today}


def test_a_letter_whose_own_row_cannot_be_read_comes_off_without_its_number(
    damaged: Desk,
) -> None:
    with anew(damaged) as desk:
        made = prepare(desk)
        assert made.batch_id is not None
        number = print_batch(desk, made.batch_id).number
        damage(desk, "letter", "fields", "CAST(X'80FF41' AS TEXT)")
    with anew(damaged) as desk:
        (off,) = mark_posted(desk, number)
        assert off.number == "?"
        assert off.to


def test_nothing_is_left_out_where_everything_can_be_read(damaged: Desk) -> None:
    with anew(damaged, by="nightly") as desk:
        assert failsafe.run(desk).counts == {}
        assert desk.store.left_out == ()
    with anew(damaged) as desk:
        assert told(desk, "cannot be read") == []


def test_of_a_whole_practice_nobody_is_left_out(whole: Desk) -> None:
    whole.store.look_through()
    assert whole.store.left_out == ()
    with whole.store.engine.connect() as connection:
        assert set_aside.odd_elsewhere(connection) == ""


IN_PRACTICE = sorted(set_aside.INSIDE.keys() - {("told_by_others", "content")})
"""What the whole practice has rows of."""


@pytest.mark.parametrize(("table", "column"), IN_PRACTICE)
def test_a_column_that_holds_more_than_its_type_is_read(
    whole: Desk, table: str, column: str
) -> None:
    with whole.store.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA ignore_check_constraints=ON")
        last = f"(SELECT max(id) FROM {table})"
        changed = f"""UPDATE {table} SET "{column}" = 'x{{' WHERE id = {last}"""
        assert connection.exec_driver_sql(changed).rowcount == 1
        found = [row.table for row in set_aside.unreadable(connection).values()]
        connection.rollback()
        connection.exec_driver_sql("PRAGMA ignore_check_constraints=OFF")
    assert found == [table]


@pytest.mark.parametrize(
    ("table", "column"), [("history", "at"), ("staff", "left_on"), ("history_payload", "content")]
)
def test_a_row_that_is_about_nobody_is_named_in_a_sentence(
    damaged: Desk, table: str, column: str
) -> None:
    odd = "CAST(X'80FF41' AS TEXT)" if column == "content" else "'x'"
    with anew(damaged, by="nightly") as desk:
        changed = f'UPDATE {table} SET "{column}" = {odd} WHERE rowid = 1'
        with closing(sqlite3.connect(desk.store.path)) as connection:
            assert connection.execute(changed).rowcount == 1
            connection.commit()
        said = f"damaged: row 1 of {table} cannot be read"
        with pytest.raises(StorageError, match=said), desk.store.read() as session:
            assert session.execute(select(Base.metadata.tables[table])).all()


def test_the_night_looks_for_such_rows_before_it_plans(damaged: Desk) -> None:
    with anew(damaged, by="nightly") as desk:
        row = damage(desk, "follow_up", "urgency", "'soon'")
        run = claim(desk, DueRun(JOBS["nightly"], desk.today), "this test")
        assert isinstance(run, Run)
        assert nightly.work(run)["failsafe_found"] == 1
        assert desk.store.left_out == (row,)
