"""What one call is about: everything that is in reach, so that what ends one thing says which."""

from __future__ import annotations

from dataclasses import dataclass

from recall.desk.core.acting import open_row
from recall.desk.core.guarding import needs
from recall.desk.core.per_person import said_of, tracks_of
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.loop.reach import reached
from recall.records import tables
from recall.schedule.calendar import say_day


@dataclass(frozen=True)
class SpokenOf:
    """One of the things that a call is about."""

    follow_up: int
    words: str
    """The ear and what is followed there, and the latest day."""


@needs(Right.LOOK)
def spoken_of(desk: Desk, follow_up_id: int) -> tuple[SpokenOf, ...]:
    """Return everything that a call about a follow-up is about, that one first.

    Raises:
        Conflict: it is closed already.
    """
    with desk.store.read() as session:
        row = open_row(session, tables.FollowUp, follow_up_id)
        tracks = tracks_of(session, row.person_id)
        numbers = reached(tracks, follow_up_id, desk.today, desk.protocol.contact)
        return tuple(
            SpokenOf(n, f"{said_of(session, [n])[0]}, by {say_day(tracks[n].latest)}")
            for n in numbers
        )
