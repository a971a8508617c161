"""The practice's own count of a day's appointments, held against the bookings here.

This program is not the practice's appointment book: what was booked in one of the two only is
noticed because somebody says how many the book has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.acting import Act, Next
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.appointments import MOVED, OFF, booked_on, ended
from recall.errors import InputError
from recall.records import tables
from recall.records.facts.cases import stands
from recall.schedule.calendar import say_day

MOST = 1000
"""More appointments than any practice has in a day: a slip of the keys."""
LOOKED_BACK = timedelta(days=7)
"""So long a day that has gone by is held against the diary: later nobody can still ask."""


@dataclass(frozen=True)
class Counted:
    """What the practice's diary has for a day, and what is booked here."""

    on: date
    diary: int
    here: int

    @property
    def words(self) -> str:
        """Return the two numbers where they differ; nothing where they agree.

        >>> Counted(date(2026, 3, 2), 23, 21).words, Counted(date(2026, 3, 2), 1, 1).words
        ('The diary has 23, here are 21.', '')
        """
        if self.diary == self.here:
            return ""
        return f"The diary has {self.diary}, here {_are(self.here)}."


def _are(count: int) -> str:
    return "is 1" if count == 1 else f"are {count}"


@needs(Right.REACH)
def say_count(desk: Desk, count: int, on: date | None = None) -> Next:
    """Record how many appointments the practice's own diary has for a day.

    Said again it counts instead; both stay in the history.

    Raises:
        InputError: no number that a day can have.
    """
    on = on or desk.today
    if not 0 <= count <= MOST:
        raise InputError(
            f"{count} is no number of appointments of a day.", hint=f"It is from 0 to {MOST}."
        )
    with desk.store.write() as session:
        act = Act(desk, session, None)
        c = tables.DiaryCount
        for old in session.scalars(select(c.id).where(c.on == on, stands(c))).all():
            act.void("diary_count", old, "counted again")
        act.add("diary_count", on=on, appointments=count)
        here = _here(session, on)
        agrees = f"The diary has {count}, as many as here."
        words = Counted(on, count, here).words or agrees
        return act.finish("diary", f"{say_day(on, weekday=True)}: {words}")


@needs(Right.LOOK)
def counted(desk: Desk, on: date | None = None) -> Counted | None:
    """Return a day's two numbers; None where nobody said what the diary has."""
    on = on or desk.today
    c = tables.DiaryCount
    with desk.store.read() as session:
        said = session.scalar(
            select(c.appointments).where(c.on == on, stands(c)).order_by(c.id.desc())
        )
        return None if said is None else Counted(on, said, _here(session, on))


def differing(session: Session, today: date) -> Sequence[Counted]:
    """Return the days that do not agree with the diary: the last week's and all to come."""
    c = tables.DiaryCount
    wanted = (
        select(c.on, c.appointments).where(c.on >= today - LOOKED_BACK, stands(c)).order_by(c.id)
    )
    said = {row[0]: row[1] for row in session.execute(wanted)}
    found = (Counted(on, count, _here(session, on)) for on, count in sorted(said.items()))
    return [each for each in found if each.words]


def _here(session: Session, on: date) -> int:
    """Return how many are booked here on a day; moved ones and those called off are not."""
    booked = [row.id for row in booked_on(session, on)]
    how = ended(session, booked)
    return sum(number not in how or how[number].what not in MOVED | OFF for number in booked)
