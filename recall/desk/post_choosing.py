"""Whom the week's letters go to: confirmed plans whose next step is a letter, backlog in portions.

What should have gone out before its visit was taken in is backlog: no first import prints
years of letters at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import msgspec
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.desk.lists import pressing
from recall.desk.session import Desk
from recall.desk.standing_on import Stood, stood
from recall.protocol.contact import LETTER_STEPS
from recall.records import tables
from recall.records.cases import pages, stands

_WEEK = timedelta(days=7)
_due: Any = tables.Due.__table__
_link: Any = tables.FollowUpDue.__table__
_visit: Any = tables.Visit.__table__
_letter: Any = tables.Letter.__table__
_batch: Any = tables.Batch.__table__


@dataclass(frozen=True)
class Chosen:
    """A follow-up that gets a letter this week."""

    stood: Stood
    follow_up_id: int
    step: str
    round: int
    is_backlog: bool


@dataclass(frozen=True)
class Choice:
    """This week's letters, and what is left for later."""

    chosen: tuple[Chosen, ...]
    backlog_left: int
    unconfirmed: int
    """Follow-ups that would get a letter if a clinician confirmed their plan."""


def monday_of(day: date) -> date:
    """Return the Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def choose(desk: Desk, session: Session, week_on: date) -> Choice:
    """Return the follow-ups that get a letter in a week, the most pressing first."""
    due = [s for s in stood(desk, session) if _is_due(s, week_on + _WEEK)]
    written = _written(session, [s.follow_up_id for s in due if s.follow_up_id])
    open_ones = [s for s in due if _key(s) not in written]
    confirmed = sorted((s for s in open_ones if s.is_confirmed), key=pressing)
    taken_in = _taken_in(session, [s.follow_up_id for s in confirmed if s.follow_up_id])
    found = [_chosen(s, taken_in) for s in confirmed]
    backlog = [c for c in found if c.is_backlog]
    room = max(0, desk.config.letters.backlog_per_week - _backlog_so_far(session, week_on))
    allowed = {c.follow_up_id for c in backlog[:room]}
    return Choice(
        chosen=tuple(c for c in found if not c.is_backlog or c.follow_up_id in allowed),
        backlog_left=len(backlog) - len(allowed),
        unconfirmed=len(open_ones) - len(confirmed),
    )


def _is_due(found: Stood, before: date) -> bool:
    step = found.standing.step
    return (
        found.follow_up_id is not None
        and step is not None
        and step.kind in LETTER_STEPS
        and step.on < before
    )


def _key(found: Stood) -> tuple[int, int, str]:
    step = found.standing.step
    assert step is not None and found.follow_up_id is not None
    return found.follow_up_id, step.round, step.kind


def _written(session: Session, follow_up_ids: Sequence[int]) -> set[tuple[int, int, str]]:
    """Return the letters there are, held ones too: each is written once for a round and step."""
    c = _letter.c
    found: set[tuple[int, int, str]] = set()
    for some in pages(follow_up_ids):
        wanted = select(c.follow_up_id, c.round, c.step).where(c.follow_up_id.in_(some))
        found |= {(number, turn, step) for number, turn, step in session.execute(wanted)}
    return found


def _taken_in(session: Session, follow_up_ids: Sequence[int]) -> dict[int, Any]:
    """Return when the last imported visit that asked was taken in, by follow-up."""
    found: dict[int, Any] = {}
    for some in pages(follow_up_ids):
        wanted = (
            select(_link.c.follow_up_id, func.max(_visit.c.recorded_at))
            .join_from(_link, _due, _link.c.due_id == _due.c.id)
            .join(_visit, _due.c.visit_id == _visit.c.id)
            .where(_link.c.follow_up_id.in_(some), _link.c.left_at.is_(None))
            .where(_visit.c.source == "imported")
            .group_by(_link.c.follow_up_id)
        )
        found |= {number: at for number, at in session.execute(wanted).all()}  # noqa: C416
    return found


def _chosen(found: Stood, taken_in: dict[int, Any]) -> Chosen:
    number, turn, step = _key(found)
    at = taken_in.get(number)
    due_on = found.standing.next_step_on
    late = at is not None and due_on is not None and due_on < at.date()
    return Chosen(found, number, step, turn, is_backlog=late)


def _backlog_so_far(session: Session, week_on: date) -> int:
    """Return how much of this week's portion is written already."""
    wanted = (
        select(_letter.c.fields, _letter.c.home)
        .join_from(_letter, _batch, _letter.c.batch_id == _batch.c.id)
        .where(_batch.c.week_on == week_on, stands(_letter))
    )
    rows = session.execute(wanted)
    return sum(home == 1 and msgspec.json.decode(fields)["backlog"] for fields, home in rows)
