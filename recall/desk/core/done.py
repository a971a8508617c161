"""What was done on a day, read from the lines of its actions, without what it takes to do more.

The call list says how much of the day is done: it waits for none of what plans people anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import msgspec
from sqlalchemy import Integer, bindparam, select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.records import tables
from recall.records.journal.names import columns_now

DAY = "day"
"""The entity under which a day's actions are kept in the history."""
DID = "did"
UNDID = "undid"
COUNTED = frozenset({"contact", "booked", "moved", "held"})
"""Kinds of action that count as somebody dealt with."""


@dataclass(frozen=True)
class Done:
    """One action of a day."""

    number: int
    kind: str
    words: str
    rows: int
    by_id: int
    person_id: int
    at: datetime
    together: str = ""
    """The mark that it shares with what was done in the same go; empty where it was alone."""


_H = tables.History
_TODAYS = (
    select(_H.id, _H.what, _H.by_id, _H.person_id, _H.at, tables.HistoryPayload.content)
    .join_from(_H, tables.HistoryPayload, tables.HistoryPayload.history_id == _H.id)
    .where(_H.entity == DAY, _H.entity_id == bindparam("day", type_=Integer()))
    .order_by(_H.id)
)
_ONES_OWN = _TODAYS.where(_H.by_id == bindparam("by", type_=Integer()))


def actions(session: Session, on: date, by_id: int | None = None) -> Sequence[Done]:
    """Return a day's actions in order, one's own or all, without those that were taken back."""
    return _standing(_lines(session, on, by_id))


def _lines(session: Session, on: date, by_id: int | None) -> Sequence[Sequence[Any]]:
    session.flush()
    wanted = _TODAYS if by_id is None else _ONES_OWN
    values = {"day": on.toordinal(), "by": by_id}
    return session.connection().execute(wanted, values).all()


def _standing(rows: Sequence[Sequence[Any]]) -> list[Done]:
    found: dict[int, Done] = {}
    for number, what, by_id, person_id, at, content in rows:
        now = said(content).get("now") or {}
        if person_id is None:  # every action is about somebody
            continue
        if what == UNDID:
            found.pop(now.get("undoes", 0), None)
        elif what == DID and now:
            told = now["kind"], now["words"], now["rows"]
            mark = now.get("together", "")
            found[number] = Done(number, *told, by_id, person_id, at, mark)
    return list(found.values())


@dataclass(frozen=True, slots=True)
class Mine:
    """What whoever acts did today and that stands."""

    counted: int
    """How many contacts, bookings and holds."""
    standing: frozenset[int]
    """All of it, by the number of the action."""
    known: int
    """The number of the last line that was read: what came later is not known here."""


@needs(Right.LOOK)
def done_today(desk: Desk) -> Mine:
    """Return what whoever acts recorded today and that stands.

    Read from the lines of the day's actions, which are found at once: it survives a restart.
    """
    with desk.store.read() as session:
        rows = _lines(session, desk.today, desk.by.id)
    mine = _standing(rows)
    return Mine(
        counted=sum(action.kind in COUNTED for action in mine),
        standing=frozenset(action.number for action in mine),
        known=rows[-1][0] if rows else 0,
    )


def said(content: str | None) -> dict[str, Any]:
    """Return what a line of history says, as plain values; nothing where it was erased.

    >>> said('{"was": null, "now": {"contact_point_id": 7}}')
    {'was': None, 'now': {'contact_point_id': 7}}
    """
    says: dict[str, Any] = msgspec.json.decode(content) if content else {}
    return {k: columns_now(v) if isinstance(v, dict) else v for k, v in says.items()}
