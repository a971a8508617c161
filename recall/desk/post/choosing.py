"""Whom the week's letters go to: confirmed plans whose next step is a letter, backlog in portions.

What should have gone out before its visit was taken in is backlog: no first import prints
years of letters at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import msgspec
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.desk.worklists.lists import pressing
from recall.desk.worklists.status_on import Stood, stood
from recall.loop.facts import Contact, Facts, Returned
from recall.loop.outcomes import BY_ID
from recall.protocol.contact import LETTER_STEPS
from recall.records import tables
from recall.records.facts.cases import pages, stands

_WEEK = timedelta(days=7)
_due: Any = tables.Due.__table__
_link: Any = tables.FollowUpDue.__table__
_visit: Any = tables.Visit.__table__
_letter: Any = tables.Letter.__table__
_batch: Any = tables.Batch.__table__
_booking: Any = tables.Booking.__table__
_ended: Any = tables.BookingEvent.__table__
Key = tuple[int, int, str]
"""Follow-up, round and step: for each there is one letter to each home."""


@dataclass(frozen=True)
class Chosen:
    """A follow-up about which a letter is written this week."""

    stood: Stood
    follow_up_id: int
    step: str
    round: int
    """Of the contact run; for the confirmation of an appointment, the appointment's number."""
    is_backlog: bool = False
    starts_local: datetime | None = None
    """The appointment that it confirms, or that was missed."""

    @property
    def key(self) -> Key:
        """Return what there is one letter for."""
        return self.follow_up_id, self.round, self.step


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
    last = max(week_on + _WEEK - timedelta(days=1), desk.today)
    come = stood(desk, session, "next_step", steps_until=last)
    due = [s for s in come if _is_due(s, last)]
    written = written_for(session, [s.follow_up_id for s in due if s.follow_up_id])
    open_ones = [s for s in due if _key(s) not in written]
    confirmed = sorted((s for s in open_ones if s.is_confirmed), key=pressing)
    ids = [s.follow_up_id for s in confirmed if s.follow_up_id]
    taken_in, missed = _taken_in(session, ids), _missed(session, ids)
    found = [_chosen(s, taken_in, missed) for s in confirmed]
    backlog = [c for c in found if c.is_backlog]
    room = max(0, desk.config.letters.backlog_per_week - _backlog_so_far(session, week_on))
    allowed = {c.follow_up_id for c in backlog[:room]}
    return Choice(
        chosen=tuple(c for c in found if not c.is_backlog or c.follow_up_id in allowed),
        backlog_left=len(backlog) - len(allowed),
        unconfirmed=len(open_ones) - len(confirmed),
    )


def written_for(session: Session, follow_up_ids: Sequence[int]) -> set[Key]:
    """Return the letters there are, held ones too: each is written once for a round and step.

    One that was pulled never left the house: where its step comes again, it is written anew.
    """
    c = _letter.c
    found: set[Key] = set()
    for some in pages(sorted(set(follow_up_ids))):
        wanted = select(c.follow_up_id, c.round, c.step).where(
            c.follow_up_id.in_(some), stands(_letter), c.pulled_why.is_(None)
        )
        found |= {(number, turn, step) for number, turn, step in session.execute(wanted)}
    return found


def letter_may_help(facts: Facts) -> bool:
    """Say whether asking at the address itself may help: where only the number is in doubt."""
    if facts.moved_on is not None or "letter" not in facts.channels:
        return False
    contacts = [BY_ID[e.outcome] for e in facts.events if isinstance(e, Contact)]
    ended = [outcome.ends for outcome in contacts if outcome.ends]
    back = any(isinstance(e, Returned) for e in facts.events)
    return ended[-1:] == ["number"] and not back


def _is_due(found: Stood, last: date) -> bool:
    step = found.standing.step
    if found.follow_up_id is None or step is None or step.on > last:
        return False
    if step.kind == "address_check":
        return letter_may_help(found.facts)
    return step.kind in LETTER_STEPS


def _key(found: Stood) -> Key:
    step = found.standing.step
    assert step is not None and found.follow_up_id is not None
    return found.follow_up_id, step.round, step.kind


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


def _missed(session: Session, follow_up_ids: Sequence[int]) -> dict[int, datetime]:
    """Return when the last appointment that was not kept was to begin, by follow-up."""
    found: dict[int, datetime] = {}
    for some in pages(follow_up_ids):
        wanted = (
            select(_booking.c.follow_up_id, _booking.c.starts_local)
            .join_from(_booking, _ended, _ended.c.booking_id == _booking.c.id)
            .where(_booking.c.follow_up_id.in_(some), stands(_booking), stands(_ended))
            .where(_ended.c.what.in_(("did_not_attend", "was_not_brought")))
            .order_by(_booking.c.starts_local)
        )
        found |= {number: starts for number, starts in session.execute(wanted).all()}  # noqa: C416
    return found


def _chosen(found: Stood, taken_in: dict[int, Any], missed: dict[int, datetime]) -> Chosen:
    number, turn, step = _key(found)
    at = taken_in.get(number)
    due_on = found.standing.next_step_on
    late = at is not None and due_on is not None and due_on < at.date()
    starts = missed.get(number) if step == "missed_letter" else None
    return Chosen(found, number, step, turn, is_backlog=late, starts_local=starts)


def _backlog_so_far(session: Session, week_on: date) -> int:
    """Return how much of this week's portion is written already."""
    wanted = (
        select(_letter.c.fields, _letter.c.follow_up_id)
        .join_from(_letter, _batch, _letter.c.batch_id == _batch.c.id)
        .where(_batch.c.week_on == week_on, stands(_letter), _letter.c.pulled_why.is_(None))
    )
    rows = session.execute(wanted)
    return len({number for fields, number in rows if msgspec.json.decode(fields)["backlog"]})
