"""Letters that are due, and what may happen to the people meanwhile: for the tests of the post."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any

import msgspec
from sqlalchemy import update

from recall.clock import Clock
from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.core.session import Desk
from recall.desk.post.batches import Prepared, prepare
from recall.desk.post.printing import print_batch, unprinted
from recall.records import tables
from tests.desk.practice import (
    FLUID,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)


def on(desk: Desk, day: date) -> Desk:
    return replace(desk, clock=Clock.at(day))


def child_with_fluid(desk: Desk, ref: str = "W1", **more: Any) -> int:
    person = somebody(desk, ref, **more)
    visit(desk, person, right=FLUID)
    return person


def first_letter_day(desk: Desk, person: int) -> date:
    """The day on which the invitation is due."""
    for n in range(60):
        day = later(desk, n)
        refreshed(day, person)
        (row,) = open_follow_ups(desk.store, person)
        if row["step"] == "invitation" and row["next_step_on"] <= day.today:
            return day.today
    raise AssertionError("no invitation within 60 days")


def refreshed(desk: Desk, person: int) -> None:
    from recall.desk.core.replanning import refresh

    with desk.store.write() as session:
        refresh(desk, session, [person])


def made(desk: Desk) -> Prepared:
    prepared = prepare(desk)
    for batch in unprinted(desk, prepared.week_on):
        print_batch(desk, batch)
    return prepared


def letters(desk: Desk, **where: Any) -> list[Any]:
    return list(rows(desk.store, tables.Letter, **where))


def number(row: Any) -> str:
    found: str = msgspec.json.decode(row["fields"])["number"]
    return found


def step(desk: Desk, person: int) -> tuple[str, int]:
    (row,) = open_follow_ups(desk.store, person)
    return row["step"], row["round"]


def die(desk: Desk, person: int) -> None:
    set_(desk, person, deceased_on=desk.today)


def object_(desk: Desk, person: int) -> None:
    set_(desk, person, objected_on=desk.today)


def unsafe(desk: Desk, person: int) -> None:
    set_(desk, person, unsafe_on=desk.today)


def move(desk: Desk, person: int) -> None:
    set_(desk, person, moved_on=desk.today)


def new_address(desk: Desk, person: int) -> None:
    with desk.store.write() as session:
        held = tables.ContactPoint
        old = (held.person_id == person, held.kind == "address")
        session.execute(update(held).where(*old).values(until=desk.today))


def book(desk: Desk, person: int) -> None:
    (row,) = open_follow_ups(desk.store, person)
    day = row["target"]
    while day.weekday() > 4:
        day += timedelta(days=1)
    bookings.book(desk, row["id"], None, Booking(datetime.combine(day, time(10)), channel="phone"))


def attend(desk: Desk, person: int) -> None:
    visit(desk, person, right=msgspec.structs.replace(FLUID, effusion="absent"))


def call_again(desk: Desk, person: int) -> None:
    (row,) = open_follow_ups(desk.store, person)
    day = desk.today + timedelta(days=9)
    contacting.log_contact(desk, row["id"], None, Attempt("phone", "call_again_on", until=day))


def set_(desk: Desk, person: int, **values: Any) -> None:
    with desk.store.write() as session:
        table = tables.Person.__table__
        session.execute(update(table).where(table.c.id == person).values(**values))
    refreshed(desk, person)
