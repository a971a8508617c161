"""The week in which letters leave: one recall letter a person, one portion of the backlog.

Both numbers are the practice's decision; common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import msgspec
import pytest
from sqlalchemy import delete, insert, update

from recall.config import Letters
from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.post.batches import Prepared, prepare
from recall.desk.post.posting import mark_posted
from recall.desk.post.printing import print_batch
from recall.desk.post.showing import preview
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.posting import letters, on
from tests.desk.practice import DAY, FLUID, desk_at, open_follow_ups, somebody, visit
from tests.desk.test_one_letter import post
from tests.desk.test_per_person import WAX

TUESDAY = DAY + timedelta(days=14)
SUNDAY = TUESDAY + timedelta(days=5)
MONDAY = TUESDAY + timedelta(days=6)


def printed(desk: Desk, made: Prepared) -> int:
    """Mark a batch and its letters as printed, without pages."""
    assert made.number is not None
    with desk.store.write() as session:
        of_batch = tables.Letter.batch_id == made.batch_id
        fit = tables.Letter.pulled_why.is_(None)
        now = {"printed_at": desk.now}
        session.execute(update(tables.Letter.__table__).where(of_batch, fit).values(**now))
        batch = tables.Batch.__table__
        session.execute(update(batch).where(tables.Batch.id == made.batch_id).values(**now))
    return made.number


@pytest.fixture
def told_once(store: Store) -> Store:
    """The invitation left on a Tuesday; on Thursday the mother asks for a letter about both."""
    desk = desk_at(store)
    visit(desk, somebody(desk), right=FLUID, left=WAX)
    post(on(desk, TUESDAY))
    row = open_follow_ups(store, 1)[0]
    thursday = on(desk, TUESDAY + timedelta(days=2))
    contacting.log_contact(thursday, row["id"], None, Attempt("phone", "wants_letter"))
    return store


def test_a_batch_for_next_week_that_is_posted_early_brings_no_second_letter(
    told_once: Store,
) -> None:
    sunday = desk_at(told_once, SUNDAY)
    made = prepare(sunday, MONDAY)
    assert made.written == 1 and [one.state for one in preview(sunday, 2)] == ["written"]
    number = printed(sunday, made)
    why = "had a letter on 15 September 2026, and gets one a week"
    assert [(one.state, one.because) for one in preview(sunday, number)] == [("to pull", why)]

    (pulled,) = mark_posted(sunday, number)

    assert (pulled.number, pulled.because) == ("2-0001", why)
    assert [bool(one["posted_on"]) for one in letters(sunday)] == [True, False]


def test_what_was_pulled_for_it_goes_the_week_after(told_once: Store) -> None:
    sunday, monday = desk_at(told_once, SUNDAY), desk_at(told_once, MONDAY)
    mark_posted(sunday, printed(sunday, prepare(sunday, MONDAY)))
    assert prepare(sunday).written == 0
    (letter,) = post(monday)
    assert letter["posted_on"] == MONDAY


def test_a_batch_for_next_week_that_waits_for_it_goes_whole(told_once: Store) -> None:
    sunday, monday = desk_at(told_once, SUNDAY), desk_at(told_once, MONDAY)
    number = printed(sunday, prepare(sunday, MONDAY))
    assert [one.state for one in preview(monday, number)] == ["printed"]
    assert mark_posted(monday, number) == ()


def test_one_more_call_this_afternoon_takes_no_letter_off_the_pile(store: Store) -> None:
    """Nobody may come to that call: the letter would then be missed as well."""
    desk = desk_at(store)
    visit(desk, somebody(desk), right=FLUID, left=WAX)
    tuesday = on(desk, TUESDAY)
    number = printed(tuesday, prepare(tuesday))
    (row, *_others) = open_follow_ups(store, 1)
    said = contacting.log_contact(tuesday, row["id"], None, Attempt("phone", "no_answer"))
    assert "this morning" in said.words
    assert [one.state for one in preview(tuesday, number)] == ["printed"]
    assert mark_posted(tuesday, number) == ()


def test_of_two_letters_in_one_batch_the_first_leaves(told_once: Store) -> None:
    """No batch is written so any more; one from an older version may lie there, a week late."""
    monday, week_late = desk_at(told_once, MONDAY), desk_at(told_once, MONDAY + timedelta(days=7))
    number = printed(monday, prepare(monday))
    assert prepare(week_late).written == 0, "a letter waits"
    (asked,) = letters(monday, step="asked_letter")
    second = beside(monday, asked)

    (pulled,) = mark_posted(week_late, number)

    assert pulled.because == "another letter goes to them, and gets one a week"
    assert letters(monday, id=asked["id"])[0]["posted_on"] == week_late.today
    assert letters(monday, id=second)[0]["posted_on"] is None


def beside(desk: Desk, letter: Any) -> int:
    """Another letter in the same batch, about the other matter of the same person."""
    (other,) = [f for f in open_follow_ups(desk.store, 1) if f["id"] != letter["follow_up_id"]]
    assert (other["step"], other["round"]) == (letter["step"], letter["round"])
    values = {n: v for n, v in letter.items() if n != "id"} | {"follow_up_id": other["id"]}
    with desk.store.write() as session:
        session.execute(delete(tables.AlsoAbout).where(tables.AlsoAbout.letter_id.is_not(None)))
        row = insert(tables.Letter.__table__).values(**values).returning(tables.Letter.id)
        return int(session.execute(row).scalar_one())


def test_both_homes_of_a_child_get_the_letter_of_the_week(store: Store) -> None:
    desk = desk_at(store)
    person = somebody(desk)
    second_home(desk, person)
    visit(desk, person, right=FLUID)
    then = on(desk, TUESDAY)
    assert mark_posted(then, printed(then, prepare(then))) == ()
    assert [row["posted_on"] for row in letters(then)] == [TUESDAY, TUESDAY]


def second_home(desk: Desk, person: int) -> None:
    made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id, "person_id": person}
    with desk.store.write() as session:
        row = insert(tables.AdultFor.__table__).values(
            name="Tam Thackwell", role="responsible_adult", **made
        )
        adult = session.execute(row.returning(tables.AdultFor.id)).scalar_one()
        home = {"kind": "address", "value": "3 Sorrel Lane\nWrenfield", "postcode": "WR9 8ZX"}
        way = insert(tables.ContactPoint.__table__)
        session.execute(way.values(adult_id=adult, raw=home["value"], **home, **made))


def backlog(desk: Desk, people: int, room: int) -> Desk:
    """Children whose letters were due long before their visits were taken in."""
    early = on(desk, desk.today - timedelta(days=200))
    for n in range(people):
        visit(early, somebody(early, f"B{n}"), right=FLUID)
    with desk.store.write() as session:
        taken_in = {"source": "imported", "recorded_at": desk.now}
        session.execute(update(tables.Visit.__table__).values(**taken_in))
    config = msgspec.structs.replace(desk.config, letters=Letters(backlog_per_week=room))
    return replace(desk, config=config)


def test_a_backlog_goes_in_weekly_portions(store: Store) -> None:
    desk = backlog(desk_at(store), people=5, room=2)
    made = [prepare(on(desk, DAY + timedelta(days=days))) for days in (0, 1, 7, 14, 21)]
    assert [one.written for one in made] == [2, 0, 2, 1, 0]
    assert [one.backlog_left for one in made] == [3, 3, 1, 0, 0]


def test_weeks_that_are_caught_up_share_the_portion_of_the_week_in_which_they_are(
    store: Store,
) -> None:
    """The jobs slept for three weeks, then run for each Monday on one day."""
    desk = backlog(desk_at(store), people=7, room=2)
    assert prepare(desk).written == 2
    awake = on(desk, DAY + timedelta(days=28))
    mondays = [date(2026, 9, day) for day in (7, 14, 21, 28)]
    assert [prepare(awake, monday).written for monday in mondays] == [2, 0, 0, 0]
    assert prepare(on(awake, awake.today + timedelta(days=7))).written == 2


def test_who_waits_for_a_portion_is_written_to_about_what_has_come_due_since(
    store: Store,
) -> None:
    desk = backlog(desk_at(store), people=1, room=0)
    visit(desk, 1, left=FLUID)
    made = [prepare(on(desk, DAY + timedelta(days=days))) for days in (0, 7, 14, 21)]
    assert [one.written for one in made] == [0, 0, 1, 0]
    assert [one.backlog_left for one in made] == [1, 1, 0, 0]
    (letter,) = letters(desk)
    assert letter["follow_up_id"] != open_follow_ups(store, 1)[0]["id"], "not the backlog's"


def test_printing_ahead_asks_about_the_week_that_is_meant(told_once: Store, tmp_path: Any) -> None:
    sunday = desk_at(told_once, SUNDAY)
    config = msgspec.structs.replace(sunday.config, files=files_in(sunday, tmp_path))
    ahead = replace(sunday, config=config)
    made = prepare(ahead, MONDAY)
    assert made.batch_id is not None
    assert print_batch(ahead, made.batch_id).letters == 1


def files_in(desk: Desk, folder: Any) -> Any:
    return msgspec.structs.replace(desk.config.files, letters=folder)
