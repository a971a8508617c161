"""Finding the follow-ups that an imported contact or booking was about.

The practice's file names the person alone. A contact names the most pressing of the person's
follow-ups that had been asked for by then and whose time was coming, and counts for the others
that were in reach; one that was about something answered long ago stays with the person and
moves nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from sqlalchemy import insert, select, update
from sqlalchemy.orm import Session

from recall.loop.outcomes import DONE, OUTCOMES
from recall.protocol.contact_steps import RUN_LETTERS
from recall.protocol.spans import Span
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import IDS, given, read_as, table_of, whole

LETTERS = ("letter", "email")
ENDS_ONE = frozenset(outcome.id for outcome in OUTCOMES if outcome.about == "one")
"""What may end one thing is kept for the most pressing alone: nobody can be asked which."""
Loose = TypeVar("Loose", tables.Contact, tables.Booking)


@dataclass(frozen=True)
class _Open:
    """An open follow-up, as far as linking looks at it."""

    id: int
    on: date
    earliest: date
    target: date
    latest: date


def link(session: Session, person_ids: Sequence[int], join_within: Span) -> None:
    """Link the imported contacts and bookings of some people that belong to nothing yet."""
    contacts = _loose(session, tables.Contact, person_ids)
    bookings = _loose(session, tables.Booking, person_ids)
    if not contacts and not bookings:
        return
    about = {c.person_id for c in contacts} | {b.person_id for b in bookings}
    follow_ups = _open_ones(session, sorted(about))
    for row in bookings:
        mine = follow_ups.get(row.person_id, ())
        day = row.starts_local.date()
        found = _meant(mine, day, join_within)
        if found:
            _set(session, tables.Booking, row.id, follow_up_id=found[0].id)
            too = [f.id for f in found[1:] if f.earliest <= day <= f.latest or f.latest < row.on]
            _also(session, row, "booking_id", dict.fromkeys(too, ""))
    for person_id, rows in _by_person(contacts).items():
        _link_contacts(session, rows, follow_ups.get(person_id, ()), join_within)


def _loose(session: Session, table: type[Loose], person_ids: Sequence[int]) -> Sequence[Loose]:
    wanted = select(whole(table)).where(
        table.person_id.in_(IDS),
        table.follow_up_id.is_(None),
        table.ref.is_not(None),
        stands(table),
    )
    wanted = wanted.order_by(table.person_id, table.on, table.id)
    return session.scalars(wanted, given(person_ids)).all()


def _by_person(rows: Sequence[tables.Contact]) -> dict[int, list[tables.Contact]]:
    found: dict[int, list[tables.Contact]] = defaultdict(list)
    for row in rows:
        found[row.person_id].append(row)
    return found


def _open_ones(session: Session, person_ids: Sequence[int]) -> dict[int, list[_Open]]:
    c = tables.FollowUp
    wanted = (
        select(c.person_id, read_as(_Open, tables.FollowUp))
        .where(c.person_id.in_(IDS), c.is_open, stands(tables.FollowUp))
        .order_by(c.urgency_rank, c.latest, c.id)
    )
    found: dict[int, list[_Open]] = defaultdict(list)
    for person_id, follow_up in session.execute(wanted, given(person_ids)):
        found[person_id].append(follow_up)
    return found


def _meant(mine: Sequence[_Open], day: date, join_within: Span) -> Sequence[_Open]:
    """Return those asked for before a day whose time was coming, the most pressing first.

    Where none was in reach, the most pressing of all is meant, and nothing else.
    """
    asked = [f for f in mine if f.on < day]
    return [f for f in asked if f.earliest <= join_within.after(day)] or asked[:1]


def _also(
    session: Session, row: tables.Contact | tables.Booking, key: str, steps: Mapping[int, str]
) -> None:
    """Keep what else a contact or an appointment was about, with the step that it did."""
    made = {"on": row.on, "recorded_at": row.recorded_at, "by_id": row.by_id, key: row.id}
    values = [{"follow_up_id": n, "step": step, "round": 1, **made} for n, step in steps.items()]
    if values:
        session.execute(insert(table_of(tables.AlsoAbout)), values)


def _link_contacts(
    session: Session,
    rows: Sequence[tables.Contact],
    mine: Sequence[_Open],
    join_within: Span,
) -> None:
    """Link one person's contacts, in order, and say which letter each letter was."""
    letters: dict[int, int] = defaultdict(int)
    for row in rows:
        found = _meant(mine, row.on, join_within)
        if not found:
            continue
        about = found[:1] if row.outcome in ENDS_ONE else found
        steps = dict.fromkeys((f.id for f in about), "")
        for follow_up in about:
            if row.outcome in DONE:
                _done(session, row, follow_up.id)
            if row.channel in LETTERS and row.outcome == "message_sent":
                letters[follow_up.id] += 1
                is_first = follow_up is found[0]
                steps[follow_up.id] = _letter_step(
                    follow_up, row.on, letters[follow_up.id], is_first
                )
        first = found[0].id
        _set(session, tables.Contact, row.id, follow_up_id=first, step=steps.pop(first) or row.step)
        if row.outcome not in DONE:
            _also(session, row, "contact_id", steps)


def _done(session: Session, row: tables.Contact, follow_up_id: int) -> None:
    """Keep what was done beside contacts as the loop keeps it."""
    made = {"on": row.on, "recorded_at": row.recorded_at, "by_id": row.by_id}
    values = {"what": row.outcome, "why": row.note, "until": None, **made}
    session.execute(
        insert(table_of(tables.FollowUpEvent)).values(follow_up_id=follow_up_id, **values)
    )


def _letter_step(follow_up: _Open, on: date, number: int, is_named: bool) -> str:
    """Return which letter a letter was; for what it was also about never a later one."""
    if on >= follow_up.latest and (is_named or number > 2):
        return RUN_LETTERS[-1]
    return RUN_LETTERS[0 if number == 1 else 1]


def _set(session: Session, kind: type[tables.Base], number: int, **values: Any) -> None:
    table = table_of(kind)
    session.execute(update(table).where(table.c.id == number).values(**values))
