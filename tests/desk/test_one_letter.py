"""One recall letter a person a week: the most pressing; it counts for all that is in reach.

The number is the practice's decision; common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import update

from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.core.replanning import refresh
from recall.desk.core.session import Desk
from recall.desk.post.batches import prepare
from recall.desk.post.choosing import choose
from recall.desk.post.posting import mark_posted, mark_returned
from recall.desk.post.weekly import is_recall, monday_of
from recall.loop.facts import Posted, Returned
from recall.records import tables
from recall.records.database.store import Store
from recall.records.facts.events import facts_for
from tests.desk.practice import DAY, FLUID, desk_at, open_follow_ups, rows, somebody, visit
from tests.desk.test_per_person import WAX


@pytest.fixture
def two(store: Store) -> list[dict[str, Any]]:
    """Wax to be tried again within days, and fluid to be looked at in four weeks."""
    desk = desk_at(store)
    visit(desk, somebody(desk), right=FLUID, left=WAX)
    return [dict(f) for f in sorted(open_follow_ups(store, 1), key=lambda f: f["latest"])]


def post(desk: Desk) -> list[Any]:
    """Write the week's letters, print them without pages and post them; return the letters."""
    made = prepare(desk)
    if made.number is None or not made.written:
        return []
    with desk.store.write() as session:
        for table, mine in (
            (tables.Batch.__table__, tables.Batch.id == made.batch_id),
            (tables.Letter.__table__, tables.Letter.batch_id == made.batch_id),
        ):
            session.execute(update(table).where(mine).values(printed_at=desk.now))
    mark_posted(desk, made.number)
    return list(rows(desk.store, tables.Letter, batch_id=made.batch_id))


def posted(store: Store, number: int) -> list[str]:
    with store.read() as session:
        events = facts_for(session, [number])[number].events
    return [event.kind for event in events if isinstance(event, Posted)]


def test_a_mother_gets_one_letter_about_both_ears(store: Store, two: list) -> None:
    wax, fluid = two
    (letter,) = post(desk_at(store, DAY + timedelta(days=14)))
    assert letter["follow_up_id"] == fluid["id"]
    assert posted(store, wax["id"]) == posted(store, fluid["id"]) == ["invitation"]
    (also,) = rows(store, tables.AlsoAbout)
    assert (also["follow_up_id"], also["step"]) == (wax["id"], "invitation")


def test_what_was_invited_by_it_is_not_invited_again(store: Store, two: list) -> None:
    fluid = two[1]
    for week in range(2, 9):
        post(desk_at(store, DAY + timedelta(days=7 * week)))
    kinds = Counter(posted(store, fluid["id"]))
    assert kinds["invitation"] == 1 and max(kinds.values()) == 1


def test_never_two_in_a_week_and_never_a_step_twice(store: Store) -> None:
    desk = desk_at(store)
    for n in range(4):
        ears = {"right": FLUID, "left": WAX} if n % 2 else {"right": FLUID}
        visit(desk, somebody(desk, f"W{n}"), **ears)
    for day in range(0, 150, 3):
        post(desk_at(store, DAY + timedelta(days=day)))
    letters = [r for r in rows(store, tables.Letter) if is_recall(r["step"])]
    weeks = Counter((r["person_id"], monday_of(r["posted_on"])) for r in letters if r["posted_on"])
    assert len(weeks) >= 4 and set(weeks.values()) == {1}
    steps = Counter((r["follow_up_id"], r["round"], r["step"]) for r in letters)
    steps += Counter(
        (r["follow_up_id"], r["round"], r["step"]) for r in rows(store, tables.AlsoAbout)
    )
    assert set(steps.values()) == {1}


def test_a_letter_that_came_back_came_back_for_both(store: Store, two: list) -> None:
    (letter,) = post(desk_at(store, DAY + timedelta(days=14)))
    number = letter["fields"].split('"number":"')[1].split('"')[0]
    mark_returned(desk_at(store, DAY + timedelta(days=20)), number)
    with store.read() as session:
        known = facts_for(session, [f["id"] for f in two])
    for facts in known.values():
        assert any(isinstance(event, Returned) for event in facts.events)
    assert {f["step"] for f in open_follow_ups(store, 1)} == {"address_check"}


def test_a_missed_appointment_for_both_is_written_about_once(store: Store, two: list) -> None:
    desk = desk_at(store, DAY + timedelta(days=28))
    starts = datetime.combine(date(2026, 9, 30), datetime.min.time()).replace(hour=10)
    made = bookings.book(desk, two[0]["id"], None, Booking(starts, why_late="away")).made
    assert made is not None
    bookings.record_missed(desk_at(store, DAY + timedelta(days=30)), made)
    with store.write() as session:  # nobody can be rung: the letter is next
        phones = tables.ContactPoint.kind == "phone"
        table = tables.ContactPoint.__table__
        session.execute(update(table).where(phones).values(until=desk.today))
        refresh(desk_at(store, DAY + timedelta(days=30)), session, [1])
    then = desk_at(store, DAY + timedelta(days=34))
    with store.read() as session:
        chosen = choose(then, session, monday_of(then.today)).chosen
    assert [(c.step, len(c.also)) for c in chosen] == [("missed_letter", 1)]
    assert chosen[0].starts_local == starts
