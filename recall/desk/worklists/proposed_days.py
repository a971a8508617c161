"""The day to propose on the telephone: inside the window, where it keeps the days most even.

One step of the levelling of the weeks ahead, against what is booked just then: what the day's
squared minutes grow by is least; of equal days the nearest to the target. So each booking moves
what is offered next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy.orm import Session

from recall.ahead.board import Board
from recall.ahead.work import Booked, Piece, from_today, open_days, slots
from recall.desk.core.rota import minutes_of, rota_of
from recall.desk.core.session import Desk
from recall.loop.facts import Facts
from recall.records.facts.work import booked_rows

FURTHEST = timedelta(days=182)
"""What opens later than so is offered its own day, not a levelled one."""


@dataclass(frozen=True)
class Wanted:
    """A follow-up for which a day is to be proposed."""

    number: int
    facts: Facts
    does: frozenset[str]
    site: str


def proposed_days(
    desk: Desk, session: Session, wanted: Sequence[Wanted], *, in_turn: bool = False
) -> dict[int, date]:
    """Return the day to propose for each of some follow-ups; none where no day is open to it.

    With `in_turn` each is proposed as if those before it had taken theirs: for a list that is
    not made anew after each booking.
    """
    last = desk.today + FURTHEST
    pieces = [p for p in (_piece(desk, one) for one in wanted) if p.earliest <= last]
    if not pieces:
        return {}
    rota = rota_of(desk)
    until = min(last, max(piece.latest for piece in pieces))
    days = open_days(desk.calendar, rota, min(piece.earliest for piece in pieces), until)
    booked = (
        Booked(on=row.starts.date(), minutes=row.minutes, who=row.who, site=row.site)
        for row in booked_rows(session, desk.today)
    )
    board = Board(slots(rota, days), booked)
    return {piece.number: day for piece in pieces if (day := board.best_day(piece, take=in_turn))}


def _piece(desk: Desk, one: Wanted) -> Piece:
    facts = one.facts
    piece = Piece(
        number=one.number,
        minutes=minutes_of(desk.config.capacity, one.does),
        earliest=facts.earliest,
        target=facts.target,
        latest=facts.latest,
        urgency=facts.urgency,
        does=frozenset(one.does),  # type: ignore[arg-type]
        site=one.site,
    )
    return from_today(piece, desk.today)
