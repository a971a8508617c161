"""What was written down last about somebody, for whoever is about to ring them."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime
from typing import NamedTuple

from sqlalchemy import Date, bindparam, select
from sqlalchemy.orm import Session

from recall.desk.core.done import said
from recall.loop.outcomes import OUTCOMES
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.tables.statements import IDS, given, looked_at, many_now
from recall.schedule.calendar import say_day

_ONLY_WHO = re.compile(r"(At \d\d:\d\d\. )?By [^.]+(\.[^.]+)*\.")
"""What an import writes where the file had no note: when somebody tried, and who."""


class Note(NamedTuple):
    """Something that was written down."""

    at: datetime
    on: date
    text: str
    whose: str = ""


LAST = 2
"""So many notes stand beside the number; the others are in the person's story."""


BESIDE = " about another there"
LEFT = ("left_message", "message_sent")
"""What was left where nobody could be spoken with."""
Together = Mapping[int, Collection[int]]
"""By person: for whom else whoever is rung about them is asked for, on the same number."""


# Each statement is made once: making one takes longer than asking it does.
_M, _H, _C = tables.Matter, tables.History, tables.Contact
_ANSWERS = (
    select(_M.person_id, _M.text)
    .where(_M.person_id.in_(IDS), _M.is_open, stands(_M), _M.kind == "answer")
    .order_by(_M.due_on, _M.id)
)
_NOTED = (
    select(_H.person_id, _H.at, tables.HistoryPayload.content)
    .join_from(_H, tables.HistoryPayload, tables.HistoryPayload.history_id == _H.id)
    .where(_H.person_id.in_(IDS), _H.what == "noted", looked_at(_H.entity) == "follow_up")
)
_SAID = select(_C.person_id, _C.recorded_at, _C.on, _C.note).where(
    _C.person_id.in_(IDS), _C.note != "", stands(_C)
)


_LEFT = select(_C.person_id, _C.recorded_at, _C.on, _C.outcome).where(
    _C.person_id.in_(IDS), _C.outcome.in_(LEFT), _C.on >= bindparam("since", type_=Date())
)
_LEFT = _LEFT.where(_C.by_them.is_(False), stands(_C))


def last_notes(
    session: Session,
    person_ids: Sequence[int],
    together: Together | None = None,
    since: date = date.max,
) -> dict[int, tuple[str, ...]]:
    """Return the last notes about some people, of calls and by themselves, the last one first.

    With them the last of a call about another of those `together`: what a home or a mother of
    several says is often about all of them, and a message left there `since` a day waits for an
    answer about any of them.
    """
    found: dict[int, list[Note]] = {}
    for person_id, at, on, text in [
        *_by_itself(session, person_ids),
        *_of_calls(session, person_ids),
    ]:
        found.setdefault(person_id, []).append(Note(at, on, text))
    beside = together or {}
    too = sorted({one for each in beside.values() for one in each})
    others = [*_of_calls(session, too), *_left(session, too, since)]
    for person_id, some in beside.items():
        theirs = [Note(at, on, text, BESIDE) for one, at, on, text in others if one in some]
        if theirs:
            found.setdefault(person_id, []).append(max(theirs))
    return {
        person_id: tuple(f"{say_day(n.on)}{n.whose}: {n.text}" for n in sorted(notes)[::-1][:LAST])
        for person_id, notes in found.items()
    }


def still_to_tell(session: Session, person_ids: Sequence[int]) -> dict[int, tuple[str, ...]]:
    """Return the answers that some people are still to be told, the first to be told first."""
    found = dict[int, list[str]]()
    for some in pages(sorted(set(person_ids))):
        for person_id, text in many_now(session, _ANSWERS, some):
            found.setdefault(person_id or 0, []).append(text)
    return {person_id: tuple(told) for person_id, told in found.items()}


def is_only_who(note: str) -> bool:
    """Return whether a note says nothing but when somebody tried and who.

    >>> is_only_who("At 10:30. By R. Thackray."), is_only_who("Works nights. By R. Thackray.")
    (True, False)
    """
    return _ONLY_WHO.fullmatch(note) is not None


def _by_itself(
    session: Session, person_ids: Sequence[int]
) -> list[tuple[int, datetime, date, str]]:
    return [
        (person_id, at, at.date(), str(said(content)["now"]))
        for person_id, at, content in many_now(session, _NOTED, person_ids)
        if person_id is not None and content
    ]


def _left(
    session: Session, person_ids: Sequence[int], since: date
) -> list[tuple[int, datetime, date, str]]:
    """Return the messages that were left about some people since a day, as notes."""
    if not person_ids:
        return []
    values = {**given(person_ids), "since": since}
    found = session.connection().execute(_LEFT, values).all()
    words = {str(each.id): f"{each.short.lower()}." for each in OUTCOMES}
    return [(number, at, on, words[outcome]) for number, at, on, outcome in found]


def _of_calls(session: Session, person_ids: Sequence[int]) -> list[tuple[int, datetime, date, str]]:
    if not person_ids:
        return []
    found = many_now(session, _SAID, person_ids)
    return [(number, at, on, note) for number, at, on, note in found if not is_only_who(note)]
