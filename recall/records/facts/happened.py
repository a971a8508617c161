"""What happened about some follow-ups, each thing with what orders it.

A contact, a letter or an appointment is told for the follow-up that it names and for each other
one that it was about, with the step that it did for that one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import lru_cache
from typing import Any, Literal, TypeVar, cast

import msgspec
from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from recall.loop import facts as loop
from recall.loop.outcomes import OutcomeId
from recall.protocol.contact_steps import LETTER_STEPS
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.tables.dues import EVENTS
from recall.records.tables.statements import IDS, given, many, many_of, table_of

BY_EMAIL: frozenset[str] = frozenset({"email", "plain_text"})
"""Formats of letters that leave the house by e-mail."""
_LETTERS = frozenset(LETTER_STEPS)
_About = tuple[int | None, str, int]
"""A follow-up, with the step that was done for it in its own round."""
Order = tuple[date, int, datetime, int]
"""The day it was about, the history's number then, and for old rows without one the instant."""
Dated = tuple[Order, loop.Event]
"""An event with what orders it."""
Acted = TypeVar("Acted", tables.Contact, tables.Letter, tables.Booking)
Happening = TypeVar(
    "Happening", tables.Contact, tables.Letter, tables.Booking, tables.FollowUpEvent
)


@dataclass(frozen=True)
class _Also:
    """A follow-up that something was about beside the one that it names."""

    follow_up_id: int
    contact_id: int | None
    booking_id: int | None
    letter_id: int | None
    step: str
    round: int


def happened(
    session: Session, follow_up_ids: Sequence[int], known_at: datetime | None
) -> dict[int | None, list[Dated]]:
    """Return what happened about some follow-ups, by number, in no order."""
    asked = _Asked(session, follow_up_ids, known_at)
    found: dict[int | None, list[Dated]] = defaultdict(list)
    for read in (_contacts, _letters, _bookings, _done):
        for follow_up_id, dated in read(asked):
            found[follow_up_id].append(dated)
    return found


def known_by(on: date, known_at: datetime | None) -> bool:
    """Return whether a day that is noted in place had come: such things are noted on their day."""
    return known_at is None or on <= known_at.date()


# Each statement is made once for what is known now: making one takes longer than asking it does.


@lru_cache(maxsize=16)
def _also(known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    c = tables.AlsoAbout
    columns = c.follow_up_id, c.contact_id, c.booking_id, c.letter_id, c.step, c.round
    return select(*columns).where(c.follow_up_id.in_(IDS), stands(c, known_at)).order_by(c.id)


@lru_cache(maxsize=16)
def _naming(table: type[Happening], known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    held = table.follow_up_id.in_(IDS), stands(table, known_at)
    return select(table_of(table)).where(*held).order_by(table.id)


@lru_cache(maxsize=16)
def _numbered(table: type[Acted], known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    return (
        select(table_of(table)).where(table.id.in_(IDS), stands(table, known_at)).order_by(table.id)
    )


@lru_cache(maxsize=16)
def _endings(known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    c = tables.BookingEvent
    return select(table_of(c)).where(c.booking_id.in_(IDS), stands(c, known_at))


class _Asked:
    """Some follow-ups whose story is asked for, and what else each thing was about."""

    def __init__(self, session: Session, ids: Sequence[int], known_at: datetime | None) -> None:
        self.session = session
        self.ids = ids
        self.known_at = known_at
        self.also = [_Also(*row) for row in many(session, _also(known_at), ids)]
        self.brought_at: set[datetime] = set()
        """The instants at which files brought some of it."""

    def named(self, table: type[Happening]) -> Sequence[Happening]:
        """Return what names one of the follow-ups."""
        return many_of(self.session, table, _naming(table, self.known_at), self.ids)

    def about(self, table: type[Acted], key: str) -> list[tuple[_About, Acted]]:
        """Return what was about them, once for each, with the step that it did for it."""
        found = [((row.follow_up_id, _step(row), _round(row)), row) for row in self.named(table)]
        links: dict[int, list[_Also]] = defaultdict(list)
        for one in self.also:
            if number := getattr(one, key):
                links[number].append(one)
        told = {(about[0], row.id) for about, row in found}
        for some in pages(sorted(links)):
            for row in many_of(self.session, table, _numbered(table, self.known_at), some):
                for one in links[row.id]:
                    if (one.follow_up_id, row.id) not in told:
                        told.add((one.follow_up_id, row.id))
                        found.append(((one.follow_up_id, one.step, one.round), row))
        return found


def _step(row: Acted) -> str:
    return getattr(row, "step", "")


def _round(row: Acted) -> int:
    return getattr(row, "round", 1)


def _contacts(asked: _Asked) -> Iterable[tuple[int | None, Dated]]:
    """Give attempts; a letter that the practice sent before it had this register counts as one."""
    for (number, step, _round), row in asked.about(tables.Contact, "contact_id"):
        if row.ref is not None:
            asked.brought_at.add(row.recorded_at)
        if row.outcome in EVENTS:  # a row of its own says so
            continue
        if step in _LETTERS and row.outcome == "message_sent" and row.channel in loop.WRITTEN:
            by = cast(Literal["letter", "email"], row.channel)
            yield number, (_order(row), loop.Posted(on=row.on, kind=step, by=by))
            continue
        event = loop.Contact(
            on=row.on,
            channel=row.channel,
            outcome=cast(OutcomeId, row.outcome),
            until=row.until,
            until_at=time.fromisoformat(row.until_at) if row.until_at else None,
            by_them=row.by_them,
            recorded_at=row.recorded_at if row.ref is None else None,
        )
        yield number, (_order(row), event)


def _letters(asked: _Asked) -> Iterable[tuple[int | None, Dated]]:
    """Give letters that left the house and letters that came back; a second home counts once."""
    told: set[tuple[int | None, int, str]] = set()
    known_at = asked.known_at
    found = asked.about(tables.Letter, "letter_id")
    for (number, step, turn), row in sorted(found, key=lambda each: each[1].id):
        posted_on = row.posted_on
        if not posted_on or not known_by(posted_on, known_at) or step not in _LETTERS:
            continue
        which = number, turn, step
        if which not in told:
            told.add(which)
            by: Literal["email", "letter"] = "email" if row.format in BY_EMAIL else "letter"
            sent = loop.Posted(on=posted_on, kind=step, by=by)
            yield number, (_order(row, posted_on), sent)
        if row.returned_on and known_by(row.returned_on, known_at):
            back = loop.Returned(on=row.returned_on, posted_on=posted_on)
            yield number, (_order(row, row.returned_on), back)


def _bookings(asked: _Asked) -> Iterable[tuple[int | None, Dated]]:
    of: dict[int, list[int | None]] = defaultdict(list)
    for (number, _step, _round), row in asked.about(tables.Booking, "booking_id"):
        of[row.id].append(number)
        if row.ref is not None:
            asked.brought_at.add(row.recorded_at)
        day = row.starts_local.date()
        at = row.recorded_at if row.ref is None else None
        made = loop.Booked(
            on=row.on, booking=row.id, day=day, why_late=row.late_why, recorded_at=at
        )
        yield number, (_order(row), made)
    # By the session, which writes down first what was only added to it.
    ends = asked.session.execute(_endings(asked.known_at), given(of)).all()
    for end in cast(Sequence[tables.BookingEvent], ends):
        ended = loop.BookingEnded(
            on=end.on,
            booking=end.booking_id,
            how=cast(loop.Ending, end.what),
            with_visit=end.visit_id is not None,
            recorded_at=end.recorded_at if end.recorded_at not in asked.brought_at else None,
        )
        for number in of[end.booking_id]:
            yield number, (_order(end), ended)


def _done(asked: _Asked) -> Iterable[tuple[int | None, Dated]]:
    for row in asked.named(tables.FollowUpEvent):
        at = row.recorded_at if row.recorded_at not in asked.brought_at else None
        event = msgspec.structs.replace(_done_event(row), recorded_at=at)
        yield row.follow_up_id, (_order(row), event)


def _done_event(row: tables.FollowUpEvent) -> loop.Event:
    match row.what:
        case "looked":
            return loop.Looked(on=row.on)
        case "address_checked":
            return loop.AddressChecked(on=row.on)
        case "gp_told":
            return loop.GpTold(on=row.on)
        case "held":
            # The table refuses one without its day.
            return loop.Held(on=row.on, until=cast(date, row.until), why=row.why)
        case _:
            return loop.Decided(on=row.on, what=row.what)


def _order(row: Happening | tables.BookingEvent, on: date | None = None) -> Order:
    return on or row.on, row.recorded_no, row.recorded_at, row.id
