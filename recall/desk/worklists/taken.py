"""Whether a time is taken, and which times are free: as far as the bookings here tell, no further.

This program is not the practice's appointment book: what is booked elsewhere only is not seen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from sqlalchemy import ColumnElement, func, or_, select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import handles_shown, only_shown, staff_elsewhere
from recall.desk.core.rights import Right
from recall.desk.core.rota import where_on
from recall.desk.core.session import Desk
from recall.desk.core.sites import named
from recall.records import tables
from recall.records.facts.booked import not_ended
from recall.records.facts.candidates import of_sites

AS_FAR = "as far as the bookings here tell"


@dataclass(frozen=True)
class Time:
    """A stretch of somebody's day."""

    starts_local: datetime
    minutes: int
    staff_id: int | None = None
    """Whose; None where nobody in particular is named."""

    @property
    def ends_local(self) -> datetime:
        """Return when it is over."""
        return self.starts_local + timedelta(minutes=self.minutes)

    def meets(self, other: Time) -> bool:
        """Return whether the two overlap, whoever they are with.

        >>> nine, half = datetime(2026, 9, 1, 9), datetime(2026, 9, 1, 9, 30)
        >>> Time(nine, 30).meets(Time(half, 10)), Time(nine, 31).meets(Time(half, 10))
        (False, True)
        """
        return self.starts_local < other.ends_local and other.starts_local < self.ends_local


@dataclass(frozen=True)
class Booked(Time):
    """An appointment that stands."""

    id: int = 0
    ref: str = ""
    handle: str = ""

    @property
    def words(self) -> str:
        """Return when it is and with whom, by reference."""
        whose = self.handle or "nobody in particular"
        until = f"{self.starts_local:%H:%M} to {self.ends_local:%H:%M}"
        return f"{self.ref} with {whose}, {until}"


@dataclass(frozen=True)
class Taken:
    """What stands at a time already."""

    words: str
    """One sentence; empty where nothing does. Somebody else's appointment is in nobody's way."""
    same: bool = False
    """Whether somebody would have two people at once, as far as the handles tell."""


def standing_on(session: Session, day: date, *, but: int | None = None) -> list[Booked]:
    """Return the appointments of a day that stand, in order."""
    b = tables.Booking
    start = datetime.combine(day, time())
    wanted = (
        select(
            *(b.starts_local, b.minutes, b.staff_id, b.id, tables.Person.ref),
            func.coalesce(tables.Staff.handle, ""),
        )
        .join_from(b, tables.Person, b.person_id == tables.Person.id)
        .outerjoin(tables.Staff, b.staff_id == tables.Staff.id)
        .where(b.starts_local >= start, b.starts_local < start + timedelta(days=1))
        .where(*not_ended())
        .where(*_at_the_sites(session))
        .order_by(b.starts_local, b.id)
    )
    return [Booked(*row) for row in session.execute(wanted) if row.id != but]


def _at_the_sites(session: Session) -> tuple[ColumnElement[bool], ...]:
    """Return the condition of what stands at the sites that are shown.

    What somebody has by name takes their time wherever it is.
    """
    b = tables.Booking
    shown = of_sites(session, b.person_id)
    return (or_(b.staff_id.is_not(None), *shown),) if shown else ()


def taken_words(session: Session, at: Time, *, but: int | None = None) -> str:
    """Return what stands at a time already, in words; nothing where nothing does."""
    return _taken(standing_on(session, at.starts_local.date(), but=but), at).words


def _taken(there: Sequence[Booked], at: Time) -> Taken:
    whoever = (at.staff_id, None)
    meets = [
        each
        for each in there
        if each.meets(at) and (at.staff_id is None or each.staff_id in whoever)
    ]
    same = [each for each in meets if each.staff_id == at.staff_id and at.staff_id is not None]
    told = same or meets
    if not told:
        return Taken("")
    word = "Taken" if same else "At the same time"
    return Taken(f"{word}: {'; '.join(each.words for each in told)}.", bool(same))


@needs(Right.LOOK)
def taken(
    desk: Desk, starts: datetime, minutes: int, with_: str = "", *, but: int | None = None
) -> Taken:
    """Return what stands at a time already, and when the next one is free.

    Args:
        desk: whose register.
        starts: the practice's wall time.
        minutes: how long it would be.
        with_: the handle of who would see them; somebody unknown is nobody in particular.
        but: the appointment that is to be moved.
    """
    with desk.store.read() as session:
        only_shown(desk, session)
        there = standing_on(session, starts.date(), but=but)
        number = _staff_id(session, with_)
    found = _taken(there, Time(starts, minutes, number))
    if not found.words:
        return found
    mine = [each for each in there if each.staff_id == number] if number else there
    free = _next_free(mine, starts, minutes)
    return Taken(f"{found.words} Next free, {AS_FAR}: {free:%H:%M}.", found.same)


def _staff_id(session: Session, handle: str) -> int | None:
    wanted = select(tables.Staff.id).where(tables.Staff.handle == handle.strip().lower())
    return session.scalar(wanted) if handle.strip() else None


def _next_free(there: Sequence[Booked], starts: datetime, minutes: int) -> datetime:
    for each in there:
        if each.meets(Time(starts, minutes)):
            starts = each.ends_local
    return starts


@needs(Right.LOOK)
def free_words(desk: Desk, day: date) -> tuple[str, ...]:
    """Return, for each who has appointments on an open day, when nothing is booked."""
    with desk.store.read() as session:
        only_shown(desk, session)
        there = standing_on(session, day)
    if not desk.calendar.is_open(day):
        return ()
    at, shown = where_on(desk, day), frozenset(handles_shown(desk))
    elsewhere = staff_elsewhere(desk) | {who for who, sites in at.items() if not sites & shown}
    names = [each.handle for each in there] + [who for who, sites in at.items() if sites & shown]
    return tuple(
        f"{_whose(desk, handle, at)}: nothing booked{_gaps_of(there, handle)}"
        for handle in dict.fromkeys(names)
        if handle not in elsewhere
    )


def _whose(desk: Desk, handle: str, at: Mapping[str, frozenset[str]]) -> str:
    """Return who it is, with the sites at which the rota has them that day."""
    where = named(desk.config.sites, at.get(handle, frozenset()))
    return (handle or "nobody in particular") + (f" at {where}" if where else "")


def _gaps_of(there: Sequence[Booked], handle: str) -> str:
    mine = [each for each in there if each.handle == handle]
    return f" {', '.join(_gaps(mine))}" if mine else ""


def _gaps(mine: Sequence[Booked]) -> Iterator[str]:
    """Give the stretches between appointments that are in order."""
    yield f"before {mine[0].starts_local:%H:%M}"
    last = mine[0].ends_local
    for each in mine[1:]:
        if each.starts_local > last:
            yield f"{last:%H:%M} to {each.starts_local:%H:%M}"
        last = max(last, each.ends_local)
    yield f"from {last:%H:%M}"
