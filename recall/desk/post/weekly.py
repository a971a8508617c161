"""What holds for a week: one recall letter a person, and one portion of the backlog.

A week runs from Monday, and it is the one in which letters leave: what is caught up after the
jobs slept counts in the week in which it is made, and a batch that is posted late in the week
in which it is posted.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import msgspec
from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session

from recall.protocol.contact_steps import STEP
from recall.records.facts.cases import pages
from recall.records.tables import Batch, Letter
from recall.schedule.calendar import say_day

A_WEEK = timedelta(days=7)
_About = tuple[int | None, int, str]
"""Follow-up, round and step: the letters of one go to one person, to each of their homes."""


def monday_of(day: date) -> date:
    """Return the Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def leaves_in(week_on: date, today: date) -> date:
    """Return the Monday of the week in which letters for a week leave: no week that is over.

    >>> leaves_in(date(2026, 9, 7), date(2026, 9, 23)).isoformat()
    '2026-09-21'
    """
    return max(week_on, monday_of(today))


def is_recall(step: str) -> bool:
    """Return whether a letter of a step is one of which a person gets one a week.

    What is about an appointment that was missed is not, and neither is what is in no step.
    """
    return step in STEP and STEP[step].letter not in (None, "missed")


def told_in_week(session: Session, person_ids: set[int], week: date) -> set[int]:
    """Return who has a recall letter of a week, one that left in it, or one that still waits."""
    told: set[int] = set()
    for some in pages(sorted(person_ids)):
        wanted = (
            select(Letter.person_id, Letter.step, Letter.posted_on, Batch.week_on)
            .outerjoin_from(Letter, Batch, Letter.batch_id == Batch.id)
            .where(Letter.person_id.in_(some), Letter.void_at.is_(None))
            .where(Letter.pulled_why.is_(None))
        )
        for person_id, step, posted_on, of in session.execute(wanted):
            here = posted_on is None or monday_of(posted_on) == week or of == week
            if here and is_recall(step):
                told.add(person_id)
    return told


def one_too_many(session: Session, letters: Sequence[Letter], week: date) -> dict[int, str]:
    """Return the recall letters that would be a person's second of a week, each with the reason.

    The first is one that left in that week already, or else the earliest of those given.
    """
    ours = sorted((x for x in letters if is_recall(x.step)), key=lambda x: x.id)
    first = _left_in(session, {x.person_id for x in ours}, week)
    found: dict[int, str] = {}
    for letter in ours:
        about, when = first.setdefault(letter.person_id, (_about(letter), None))
        if about != _about(letter):
            left = f"had a letter on {say_day(when)}" if when else "another letter goes to them"
            found[letter.id] = f"{left}, and gets one a week"
    return found


def backlog_so_far(session: Session, week: date) -> int:
    """Return how much of a week's portion is written already, whatever week it was written for."""
    b = Batch
    caught_up = and_(b.week_on < week, b.on >= week, b.on < week + A_WEEK)
    of_week = list(session.scalars(select(b.id).where(or_(b.week_on == week, caught_up))))
    found: set[int | None] = set()
    for some in pages(of_week):
        wanted = select(Letter.fields, Letter.follow_up_id).where(
            Letter.batch_id.in_(some), Letter.void_at.is_(None), Letter.pulled_why.is_(None)
        )
        rows = session.execute(wanted)
        found |= {number for fields, number in rows if msgspec.json.decode(fields)["backlog"]}
    return len(found)


def _left_in(
    session: Session, person_ids: set[int], week: date
) -> dict[int, tuple[_About, date | None]]:
    """Return by person the recall letter that left in a week, and on which day."""
    found: dict[int, tuple[_About, date | None]] = {}
    x = Letter
    for some in pages(sorted(person_ids)):
        wanted = (
            select(x.person_id, x.follow_up_id, x.round, x.step, x.posted_on)
            .where(x.person_id.in_(some), x.void_at.is_(None))
            .where(x.posted_on >= week, x.posted_on < week + A_WEEK)
        )
        for person_id, number, turn, step, posted_on in session.execute(wanted.order_by(x.id)):
            if is_recall(step):
                found.setdefault(person_id, ((number, turn, step), posted_on))
    return found


def _about(letter: Letter) -> _About:
    return letter.follow_up_id, letter.round, letter.step
