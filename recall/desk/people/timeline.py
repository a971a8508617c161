"""One person's timeline, in sentences: who did what, when, and why.

What was taken back or voided is told with it. Rows are told by the day they are about; what
was recorded on a later day says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.looking import looks
from recall.desk.core.person_lookup import person_row
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.people.timeline_changes import changed
from recall.desk.people.timeline_words import TIMELINE_SOURCES
from recall.records import tables
from recall.schedule.calendar import say_day

_Order = tuple[int, datetime, int]
"""The history's number, the instant where old rows have none, the place of the source."""
_WORKED_OUT = (tables.Due, tables.DueEvent, tables.Referral, tables.Letter)
"""Tables that the program fills from what was entered."""


@dataclass(frozen=True)
class Sentence:
    """One thing that happened."""

    on: date
    at: datetime
    by: str
    says: str
    late: date | None = None
    """The day on which it was entered, where that was later."""

    def __str__(self) -> str:
        """Return it as a line."""
        late = f", entered late on {say_day(self.late)}" if self.late else ""
        return f"{say_day(self.on)}: {self.says} ({self.by}{late})"


@needs(Right.LOOK)
@looks
def timeline(desk: Desk, ref: str) -> tuple[Sentence, ...]:
    """Return one person's timeline: everything that happened, in order.

    Raises:
        NotFound: no such reference.
    """
    with desk.store.read() as session:
        person = person_row(session, ref)
        named = select(tables.Staff.id, tables.Staff.handle)
        handles: dict[int | None, str] = {n: handle for n, handle in session.execute(named)}  # noqa: C416
        told = list(_sentences(desk, session, person, handles))
    told.sort(key=lambda one: (one[0].on, one[1]))
    return tuple(sentence for sentence, _order in told)


def _brought_at(session: Session, person_id: int) -> frozenset[datetime]:
    """Return when files brought something of a person: nobody entered that late."""
    v, c, b = tables.Visit, tables.Contact, tables.Booking
    asked = (
        select(v.recorded_at).where(v.person_id == person_id, v.source == "imported"),
        select(c.recorded_at).where(c.person_id == person_id, c.ref.is_not(None)),
        select(b.recorded_at).where(b.person_id == person_id, b.ref.is_not(None)),
    )
    return frozenset(at for wanted in asked for at in session.scalars(wanted))


def _sentences(
    desk: Desk, session: Session, person: tables.Person, handles: dict[int | None, str]
) -> Iterator[tuple[Sentence, _Order]]:
    born = say_day(person.born)
    first = f"{person.ref}, born {born}, was entered into the register."
    yield (
        Sentence(person.on, person.recorded_at, handles[person.by_id], first),
        (0, person.recorded_at, 0),
    )
    brought = _brought_at(session, person.id)
    for order, source in enumerate(TIMELINE_SOURCES, 1):
        for row, says in source.sentences_of(session, person.id):
            if not says:
                continue
            if row.void_at is not None:
                says += f" Voided by {handles[row.void_by_id]}: {row.void_why}"
            at, late = row.recorded_at, None
            if source.table not in _WORKED_OUT and at not in brought:
                late = desk.clock.day_of(at) if desk.clock.days_late(row.on, at) else None
            yield Sentence(row.on, at, handles[row.by_id], says, late), (row.recorded_no, at, order)
    for line, says in changed(session, person.id):
        yield Sentence(line.at.date(), line.at, handles[line.by_id], says), (line.id, line.at, 0)
