"""Whom the week's letters go to: confirmed plans whose next step is a letter, backlog in portions.

What should have gone out before its visit was taken in is backlog: no first import prints
years of letters at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import msgspec
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.desk.worklists.day_list import in_order, rows_by
from recall.desk.worklists.status_on import (
    FollowUpStatus,
    has_gone_by,
    statuses,
    statuses_then,
)
from recall.loop.facts import Contact, Facts, Returned
from recall.loop.outcomes import BY_ID
from recall.protocol.contact import PRESSING
from recall.protocol.contact_steps import CONTACT_STEPS, STEP
from recall.records.facts.cases import pages
from recall.records.tables import (
    Batch,
    Booking,
    BookingEvent,
    Due,
    FollowUpDue,
    Letter,
    Visit,
)

_WEEK = timedelta(days=7)
_WITH_A_LETTER = tuple(step.kind for step in CONTACT_STEPS if step.letter)
Key = tuple[int, int, str]
"""Follow-up, round and step: for each there is one letter to each home."""


@dataclass(frozen=True)
class Chosen:
    """A follow-up about which a letter is written this week."""

    about: FollowUpStatus
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
    due = [s for s in _may_be_written(desk, session, last) if _is_due(s, last)]
    written = written_for(session, [s.follow_up_id for s in due if s.follow_up_id])
    open_ones = [s for s in due if _key(s) not in written]
    may_go = in_order((s for s in open_ones if _may_go(s)), desk.today, "open")
    ids = [s.follow_up_id for s in may_go if s.follow_up_id]
    taken_in, missed = _taken_in(session, ids), _missed(session, ids)
    found = [_chosen(s, taken_in, missed) for s in may_go]
    backlog = [c for c in found if c.is_backlog]
    room = max(0, desk.config.letters.backlog_per_week - _backlog_so_far(session, week_on))
    allowed = {c.follow_up_id for c in backlog[:room]}
    return Choice(
        chosen=tuple(c for c in found if not c.is_backlog or c.follow_up_id in allowed),
        backlog_left=len(backlog) - len(allowed),
        unconfirmed=len(open_ones) - len(may_go),
    )


def _may_be_written(desk: Desk, session: Session, last: date) -> list[FollowUpStatus]:
    """Return, from facts, how those stand whose step by a day may be a letter."""
    if has_gone_by(desk, session):
        return statuses_then(desk, session)
    rows = rows_by(desk, session, "come", last, _WITH_A_LETTER)
    return statuses(desk, session, [r.number for r in rows if STEP[r.step].letter])


def written_for(session: Session, follow_up_ids: Sequence[int]) -> set[Key]:
    """Return the letters there are, held ones too: each is written once for a round and step.

    One that was pulled never left the house: where its step comes again, it is written anew.
    """
    found: set[Key] = set()
    for some in pages(sorted(set(follow_up_ids))):
        wanted = select(Letter.follow_up_id, Letter.round, Letter.step).where(
            Letter.follow_up_id.in_(some), Letter.void_at.is_(None), Letter.pulled_why.is_(None)
        )
        found |= {
            (number, turn, step)
            for number, turn, step in session.execute(wanted)
            if number is not None and step is not None
        }
    return found


def letter_may_help(facts: Facts) -> bool:
    """Say whether asking at the address itself may help: where only the number is in doubt."""
    if facts.moved_on is not None or "letter" not in facts.channels:
        return False
    contacts = [BY_ID[e.outcome] for e in facts.events if isinstance(e, Contact)]
    ended = [outcome.ends for outcome in contacts if outcome.ends]
    back = any(isinstance(e, Returned) for e in facts.events)
    return ended[-1:] == ["number"] and not back


def _is_due(found: FollowUpStatus, last: date) -> bool:
    step = found.status.step
    if found.follow_up_id is None or step is None or step.on > last:
        return False
    row = STEP[step.kind]
    if row.about_address:
        return letter_may_help(found.facts)
    return row.is_letter


def _may_go(found: FollowUpStatus) -> bool:
    """Say whether a clinician has confirmed the plan, or it presses and was typed in here.

    What is urgent waits for nobody; what a file says may be years old, and is looked at first.
    """
    pressing = found.status.urgency in PRESSING
    return found.is_confirmed or (pressing and found.waits == {"entered"})


def _key(found: FollowUpStatus) -> Key:
    step = found.status.step
    assert step is not None and found.follow_up_id is not None
    return found.follow_up_id, step.round, step.kind


def _taken_in(session: Session, follow_up_ids: Sequence[int]) -> dict[int, datetime]:
    """Return when the last imported visit that asked was taken in, by follow-up."""
    found: dict[int, datetime] = {}
    for some in pages(follow_up_ids):
        wanted = (
            select(FollowUpDue.follow_up_id, func.max(Visit.recorded_at))
            .join_from(FollowUpDue, Due, FollowUpDue.due_id == Due.id)
            .join(Visit, Due.visit_id == Visit.id)
            .where(FollowUpDue.follow_up_id.in_(some), FollowUpDue.left_at.is_(None))
            .where(Visit.source == "imported")
            .group_by(FollowUpDue.follow_up_id)
        )
        found |= {row[0]: row[1] for row in session.execute(wanted)}
    return found


def _missed(session: Session, follow_up_ids: Sequence[int]) -> dict[int, datetime]:
    """Return when the last appointment that was not kept was to begin, by follow-up."""
    found: dict[int, datetime] = {}
    for some in pages(follow_up_ids):
        wanted = (
            select(Booking.follow_up_id, Booking.starts_local)
            .join_from(Booking, BookingEvent, BookingEvent.booking_id == Booking.id)
            .where(Booking.follow_up_id.in_(some), Booking.void_at.is_(None))
            .where(BookingEvent.void_at.is_(None))
            .where(BookingEvent.what.in_(("did_not_attend", "was_not_brought")))
            .order_by(Booking.starts_local)
        )
        found |= {row.follow_up_id: row.starts_local for row in session.execute(wanted)}
    return found


def _chosen(
    found: FollowUpStatus, taken_in: dict[int, datetime], missed: dict[int, datetime]
) -> Chosen:
    number, turn, step = _key(found)
    at = taken_in.get(number)
    due_on = found.status.next_step_on
    late = at is not None and due_on is not None and due_on < at.date()
    starts = missed.get(number) if STEP[step].letter == "missed" else None
    return Chosen(found, number, step, turn, is_backlog=late, starts_local=starts)


def _backlog_so_far(session: Session, week_on: date) -> int:
    """Return how much of this week's portion is written already."""
    wanted = (
        select(Letter.fields, Letter.follow_up_id)
        .join_from(Letter, Batch, Letter.batch_id == Batch.id)
        .where(Batch.week_on == week_on, Letter.void_at.is_(None), Letter.pulled_why.is_(None))
    )
    rows = session.execute(wanted)
    return len({number for fields, number in rows if msgspec.json.decode(fields)["backlog"]})
