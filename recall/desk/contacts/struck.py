"""Numbers that do not reach somebody: struck by their value, not by the row they stand in.

A wrong number is wrong for everybody it was given for: twins, a home of ten, two homes of one
child. Where the number is right and only this person is there no longer, the others keep it.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.acting import Act, row_of
from recall.desk.core.person_header import person_headers
from recall.loop.outcomes import Outcome
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.people.finding import rekey
from recall.records.tables.statements import whole


def strike(act: Act, outcome: Outcome, contact_point_id: int) -> str:
    """End a number as far as an outcome says; return in words which, for whom and what is next.

    Those who lose a number by it stand otherwise at once, and are found by it no longer.
    """
    used = row_of(act.session, tables.ContactPoint, contact_point_id)
    rows = _same(act.session, used, act.person_id if outcome.ends == "their_number" else None)
    for row in rows:
        if row.until is None or row.until > act.desk.today:
            act.set("contact_point", row.id, until=act.desk.today)
    people = {row.person_id for row in rows}
    rekey(act.session, sorted(people))
    others = len(people - {act.person_id})
    whom = f" for {others + 1} people who have it" if others else ""
    struck = f"{used.raw} is struck{whom}."
    return " ".join(filter(None, (struck, _next(act))))


def _same(
    session: Session, used: tables.ContactPoint, person_id: int | None
) -> Sequence[tables.ContactPoint]:
    """Return everybody's rows with one number, or one person's; unread ones by what was written."""
    c = tables.ContactPoint
    is_same = c.value == used.value if used.value else c.raw == used.raw
    wanted = select(whole(c)).where(c.kind == used.kind, is_same, stands(c)).order_by(c.id)
    if person_id is not None:
        wanted = wanted.where(c.person_id == person_id)
    return session.scalars(wanted).all()


def _next(act: Act) -> str:
    """Say which number is to be rung instead."""
    rules = act.desk.protocol.contact
    who = person_headers(act.session, [act.person_id], act.desk.today, rules)[act.person_id]
    if not who.numbers:
        return "No other number is recorded."
    return f"Next number: {who.numbers[0].said}."


def first_number(act: Act) -> int | None:
    """Return the number that lists show of a person, by its place in the register."""
    rules = act.desk.protocol.contact
    who = person_headers(act.session, [act.person_id], act.desk.today, rules)[act.person_id]
    return who.numbers[0].contact_point_id if who.numbers else None
