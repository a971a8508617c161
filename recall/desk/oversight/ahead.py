"""The weeks ahead: what is asked for, what the rota gives, how to level it, and what if.

One reading of the register for all of it; the screen, the command and the day that is offered to
reception are views of what is read here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import msgspec
from sqlalchemy.orm import Session

from recall.ahead import trying
from recall.ahead.again import ALL, Kept, Look, agains, missed_of
from recall.ahead.contacting import Reaching, Steps, week_by_week
from recall.ahead.levelling import Levelled, level
from recall.ahead.weeks import Whole, in_portions, mondays_from
from recall.ahead.work import Booked, Hours, Piece, from_today, open_days, slots
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.rota import minutes_of, not_here, rota_of
from recall.desk.core.session import Desk
from recall.errors import InputError
from recall.loop.booking_rules import MISSED
from recall.protocol.contact_steps import LOOK_THROUGH, TYPE_VISIT
from recall.records.facts import work
from recall.schedule.calendar import say_day

WEEKS = 12
LOOKED_BACK = timedelta(days=730)
"""How far back visits tell what visits create."""


@dataclass(frozen=True)
class Ahead:
    """Everything known of the weeks ahead."""

    today: date
    whole: Whole
    steps: tuple[Steps, ...]
    rota: tuple[Hours, ...]
    history: int
    """Follow-ups of before the practice went live: in none of the numbers."""
    holidays_until: date | None
    """The last day up to which public holidays are known; None where there are none."""
    closures_until: date | None
    """The last day of the practice's own closures."""
    portion: int
    """How much of the backlog a week."""
    has_rota: bool
    not_here: tuple[str, ...] = ()
    """Who is on the rota and not on the staff table: not counted."""

    @property
    def last(self) -> date:
        """Return the last day of these weeks."""
        return self.whole.mondays[-1] + timedelta(days=6)

    @property
    def to_place(self) -> list[Piece]:
        """Return what is not booked and is offered a day in these weeks, from today on."""
        return [piece for piece in self._offered if piece.target <= self.last]

    @property
    def later(self) -> list[Piece]:
        """Return what could be seen in these weeks and is offered a day after them."""
        return [p for p in self._offered if p.earliest <= self.last < p.target]

    @property
    def _offered(self) -> list[Piece]:
        portions = self.whole.portions
        pieces = self.whole.appointments
        return [from_today(each, self.today, portions.get(each.number)) for each in pieces]


@dataclass(frozen=True)
class Change:
    """What is tried: a clinic day more, somebody away, another portion of the backlog."""

    open_on: date | None = None
    away: str = ""
    away_from: date | None = None
    weeks_away: int = 3
    portion: int | None = None


@dataclass(frozen=True)
class Tried:
    """The weeks ahead without and with a change."""

    before: trying.Served
    after: trying.Served
    overdue: frozenset[int]
    """What is late already, whatever is changed."""
    changes: tuple[str, ...] = ()
    """What was tried, in words."""

    @property
    def newly_late(self) -> tuple[Piece, ...]:
        """Return what would be late with the change alone."""
        known = {piece.number for piece in self.before.late}
        return tuple(piece for piece in self.after.late if piece.number not in known)

    def backlog_seen_by(self, served: trying.Served) -> date | None:
        """Return the last day on which anybody late already is seen; None: not in these weeks."""
        days = [served.days[number] for number in self.overdue]
        return None if None in days else max((day for day in days if day), default=None)

    @property
    def no_longer_late(self) -> tuple[Piece, ...]:
        """Return what would be late without the change alone."""
        known = {piece.number for piece in self.after.late}
        return tuple(piece for piece in self.before.late if piece.number not in known)


@needs(Right.LOOK)
def ahead(desk: Desk, weeks: int = WEEKS) -> Ahead:
    """Return the coming weeks, from this one on."""
    return _read(desk, weeks, rota_of(desk), desk.config.letters.backlog_per_week)


@needs(Right.LOOK)
def levelled(desk: Desk, found: Ahead) -> Levelled:
    """Return a proposal that spreads what is not booked over the weeks ahead.

    What is offered a day after them is on none of their days, before and after.
    """
    made = level(found.to_place, found.whole.slots, found.whole.booked)
    return msgspec.structs.replace(made, later=len(found.later))


@needs(Right.LOOK)
def what_if(desk: Desk, found: Ahead, change: Change) -> Tried:
    """Return which asks would be late without a change, and with it.

    Raises:
        InputError: the day is open already, or the practitioner is not on the rota.
    """
    rota = found.rota
    portion = found.portion if change.portion is None else change.portion
    if change.open_on is not None:
        rota = _opened(desk, found, change.open_on)
    if change.away:
        rota = _away(desk, rota, change)
    days = _days(desk, rota, found.whole.mondays)
    pieces, booked = found.whole.appointments, found.whole.booked
    portions = in_portions(pieces, desk.today, max(1, portion), found.whole.mondays[0])
    return Tried(
        trying.served(pieces, found.whole.slots, booked, _not_before(found.whole.portions, desk)),
        trying.served(pieces, slots(rota, days), booked, _not_before(portions, desk)),
        frozenset(portions),
        tuple(_words(desk, found, change, rota)),
    )


def _words(desk: Desk, found: Ahead, change: Change, rota: tuple[Hours, ...]) -> Iterator[str]:
    """Say what is tried: the day and what it gives, who is away and when, the portion."""
    if (day := change.open_on) is not None:
        given = ", ".join(
            f"{slot.who or 'the practice'} {slot.minutes} minutes" for slot in slots(rota, [day])
        )
        yield f"Open on {say_day(day, weekday=True)}: {given or 'nobody is there'}."
    if change.away:
        first, last = _away_days(desk, change)
        yield f"{change.away.lower()} away from {say_day(first)} to {say_day(last)}."
    if change.portion is not None:
        yield f"{change.portion} of the backlog a week, in the place of {found.portion}."


def _away_days(desk: Desk, change: Change) -> tuple[date, date]:
    first = change.away_from or desk.today
    return first, first + timedelta(days=7 * change.weeks_away - 1)


def _not_before(portions: Mapping[int, date], desk: Desk) -> Mapping[int, date]:
    return {number: max(week, desk.today) for number, week in portions.items()}


def _opened(desk: Desk, found: Ahead, day: date) -> tuple[Hours, ...]:
    last = found.last
    if not desk.today <= day <= last:
        raise InputError(
            f"{say_day(day)} is not in the weeks that are looked at.",
            hint=f"They run to {say_day(last)}; --weeks looks further.",
        )
    if desk.calendar.is_open(day):
        raise InputError(f"{say_day(day)} is an open day already.")
    return trying.with_day(found.rota, day)


def _away(desk: Desk, rota: tuple[Hours, ...], change: Change) -> tuple[Hours, ...]:
    names = list(dict.fromkeys(hours.who for hours in rota if hours.who))
    who = change.away.lower()
    if who not in names:
        known = f"On it: {', '.join(names)}." if names else "Set `[capacity] rota` in recall.toml."
        raise InputError(f"{change.away} is not on the rota.", hint=known)
    return trying.with_away(rota, who, *_away_days(desk, change))


def _days(desk: Desk, rota: tuple[Hours, ...], mondays: list[date]) -> list[date]:
    return open_days(desk.calendar, rota, desk.today, mondays[-1] + timedelta(days=6))


def _read(desk: Desk, weeks: int, rota: tuple[Hours, ...], portion: int) -> Ahead:
    since = desk.today - LOOKED_BACK
    with desk.store.read() as session:
        rows = work.open_rows(session)
        booked = work.booked_rows(session, desk.today)
        seen = work.looks(session, since, desk.today)
        following = work.asked_next(session, since, desk.today)
        kept = _kept(desk, session, since)
    mondays = mondays_from(_start(desk, rota, booked), weeks)
    by = {row.id: row for row in rows if row.step != LOOK_THROUGH}
    taken = {number for one in booked for number in one.follow_ups}
    free = [row for row in by.values() if row.id not in taken]
    pieces = [_piece(desk, row) for row in free if row.step != TYPE_VISIT]  # those have come
    whole = Whole(
        pieces=pieces,
        booked=[_booked(one, by) for one in booked],
        slots=slots(rota, _days(desk, rota, mondays)),
        mondays=mondays,
        portions=in_portions(pieces, desk.today, max(1, portion), mondays[0]),
        known=agains(_looks(desk, seen, following)),
        closed=_closed(desk, mondays),
        missed=missed_of(kept),
    )
    missed = [week.missed for week in whole.weeks()]
    minutes = msgspec.structs.asdict(desk.config.capacity.steps)
    steps = week_by_week(map(_reaching, free), desk.protocol.contact, mondays, minutes, missed)
    return Ahead(
        today=desk.today,
        whole=whole,
        steps=tuple(steps),
        rota=rota,
        history=len(rows) - len(by),
        holidays_until=_last_year(desk.calendar.holidays),
        closures_until=max(desk.calendar.closures, default=None),
        portion=portion,
        has_rota=bool(desk.config.capacity.rota),
        not_here=not_here(desk),
    )


def _start(desk: Desk, rota: tuple[Hours, ...], booked: list[work.BookedRow]) -> date:
    """Return today, or the next Monday where nothing can be done in the rest of this week."""
    sunday = desk.today + timedelta(days=6 - desk.today.weekday())
    is_over = not open_days(desk.calendar, rota, desk.today, sunday)
    if is_over and not any(one.starts.date() <= sunday for one in booked):
        return sunday + timedelta(days=1)
    return desk.today


def _last_year(days: Mapping[date, str]) -> date | None:
    last = max(days, default=None)
    return date(last.year, 12, 31) if last else None


def _closed(desk: Desk, mondays: list[date]) -> frozenset[date]:
    """Return the usual days of the weeks on which the practice is closed."""
    all_days = (mondays[0] + timedelta(days=n) for n in range(7 * len(mondays)))
    usual = (day for day in all_days if day.weekday() in desk.calendar.weekdays)
    return frozenset(day for day in usual if not desk.calendar.is_open(day))


def _piece(desk: Desk, row: work.OpenRow) -> Piece:
    does = frozenset(row.does)
    return Piece(
        number=row.id,
        minutes=minutes_of(desk.config.capacity, does),
        earliest=row.earliest,
        target=row.target,
        latest=row.latest,
        urgency=row.urgency,
        does=does,
        kind=row.category,
        practitioner=row.practitioner,
        site=row.site,
    )


def _booked(one: work.BookedRow, by: Mapping[int, work.OpenRow]) -> Booked:
    held = [by[number] for number in one.follow_ups if number in by]
    on = one.starts.date()
    return Booked(
        on=on,
        minutes=one.minutes,
        who=one.who,
        site=one.site,
        kind=held[0].category if held else "",
        does=frozenset(each for row in held for each in row.does),
        late=any(on > row.latest for row in held),
    )


def _reaching(row: work.OpenRow) -> Reaching:
    return Reaching(
        row.step,
        row.step_on,
        row.urgency,
        row.asked_on,
        row.earliest,
        row.target,
        row.latest,
        row.round > 1,
    )


def _looks(desk: Desk, seen: list[work.LookRow], following: list[work.NextRow]) -> list[Look]:
    """Return what each visit answered, with the soonest of what it asked for next."""
    soonest: dict[int, tuple[date, int, str]] = {}
    for each in following:
        minutes = minutes_of(desk.config.capacity, frozenset(each.does))
        soonest.setdefault(each.visit, (each.target, minutes, each.category))
    told = []
    for row in seen:
        target, minutes, then = soonest.get(row.visit, (None, 0, ALL))
        days = None if target is None else (target - row.on).days
        told.append(Look(row.person, row.category, days, minutes, then))
    return told


def _kept(desk: Desk, session: Session, since: date) -> list[Kept]:
    """Return the first appointment of everybody that was kept or missed, and the next if missed."""
    rows = work.first_ended(session, since, desk.today, MISSED)
    following = work.next_appointments(session, {row.person: row.on for row in rows if row.missed})
    told = []
    for row in rows:
        then = following.get(row.person)
        days = None if then is None else (then - row.on).days
        told.append(Kept(row.person, row.missed, days, (desk.today - row.on).days))
    return told
