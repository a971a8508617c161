"""The facts of follow-ups, from which the loop works out how they stand.

Everything that happened is put in the order in which it happened: by day, then by the
history's number when it was recorded. What was voided is left out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any, NamedTuple, TypedDict, cast

from sqlalchemy import ColumnElement, Select, case, func, or_, select
from sqlalchemy.orm import Session

from recall.care.case import Urgency
from recall.loop import facts as loop
from recall.loop.outcomes import Channel
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.facts.happened import Dated, Order, happened, known_by
from recall.records.facts.no_way import without_a_way
from recall.records.tables.statements import IDS, columns_of, given, many
from recall.schedule.plan import CloseReason

SPOKEN = "spoken"
"""The form of letter of somebody who is rung instead: every letter's step becomes a call."""
_DAY = timedelta(days=1)
FROM_FILE = "imported"
"""The source of a visit that a file brought."""


@dataclass(frozen=True)
class _Person:
    """What the loop must know of somebody."""

    id: int
    born: date
    dependent: bool
    deceased_on: date | None
    objected_on: date | None
    unsafe_on: date | None
    moved_on: date | None
    gp_may_be_told: bool | None


@dataclass(frozen=True)
class _FollowUp:
    """What the loop must know of a follow-up."""

    id: int
    person_id: int
    on: date
    recorded_no: int
    recorded_at: datetime
    earliest: date
    target: date
    latest: date
    urgency: Urgency
    closed_on: date | None
    close_reason: CloseReason | None


# Each statement is made once for what is known now: making one takes longer than asking it does.
_WINDOWS = select(*columns_of(_FollowUp, tables.FollowUp)).where(tables.FollowUp.id.in_(IDS))
_PEOPLE = select(*columns_of(_Person, tables.Person)).where(tables.Person.id.in_(IDS))


def facts_for(
    session: Session, follow_up_ids: Sequence[int], known_at: datetime | None = None
) -> dict[int, loop.Facts]:
    """Return the facts of some follow-ups, by number."""
    found: dict[int, loop.Facts] = {}
    for some in pages(follow_up_ids):
        found |= _facts_page(session, some, known_at)
    return found


def _facts_page(
    session: Session, follow_up_ids: Sequence[int], known_at: datetime | None
) -> dict[int, loop.Facts]:
    told = happened(session, follow_up_ids, known_at)
    parts = _parts(session, follow_up_ids, known_at)
    # By the session, which writes down first what was only added to it.
    read = session.execute(_WINDOWS, given(follow_up_ids)).all()
    rows = cast(Sequence[_FollowUp], read)
    ids = {row.person_id for row in rows}
    people = _people(session, ids, known_at)
    visits = last_visits(session, list(ids), known_at)
    since = {row.id: (row.recorded_no, row.recorded_at) for row in rows}
    joined = _joined_on(session, since, parts)
    found = {}
    for row in rows:
        events = [event for _order, event in sorted(told[row.id], key=_when)]
        if row.closed_on and row.close_reason and known_by(row.closed_on, known_at):
            events.append(loop.Closed(on=row.closed_on, reason=row.close_reason))
        held = parts.get(row.id, ())
        last = visits.get(row.person_id, _NEVER)
        found[row.id] = loop.Facts(
            **people[row.person_id],
            asked_on=held[-1].asked_on if held else row.on,
            joined_on=joined.get(row.id),
            all_by=max((part.latest for part in held), default=row.latest),
            from_file=bool(held) and all(part.from_file for part in held),
            visited_on=last.visited_on,
            seen_on=last.seen_on,
            earliest=row.earliest,
            target=row.target,
            latest=row.latest,
            urgency=row.urgency,
            events=tuple(events),
        )
    return found


def _when(dated: Dated) -> Order:
    return dated[0]


def _people(
    session: Session, person_ids: Iterable[int], known_at: datetime | None = None
) -> dict[int, _About]:
    """Return what is known of some people, whatever the window, by number."""
    ids = list(person_ids)
    ways = _channels(session, ids, known_at)
    rows = cast(Sequence[_Person], session.execute(_PEOPLE, given(ids)).all())
    return {p.id: _about(p, ways[p.id]) for p in rows}


def facts_without_follow_up(session: Session, person_ids: Sequence[int]) -> dict[int, loop.Facts]:
    """Return what is known of some people, for asks that nobody was contacted about.

    The window is blank: whoever asks puts theirs in its place.
    """
    return {
        number: loop.Facts(
            **about,
            asked_on=date.min,
            earliest=date.min,
            target=date.min,
            latest=date.min,
            urgency="low",
        )
        for number, about in _people(session, person_ids).items()
    }


class _About(TypedDict):
    """What is known of a person, whatever the window."""

    born: date
    dependent: bool
    died_on: date | None
    objected_on: date | None
    unsafe_on: date | None
    moved_on: date | None
    gp_agreed: bool | None
    channels: frozenset[Channel]
    own_channels: frozenset[Channel] | None
    one_number: bool
    own_one_number: bool


def _about(person: _Person, ways: _Ways) -> _About:
    return {
        "born": person.born,
        "dependent": person.dependent,
        "died_on": person.deceased_on,
        "objected_on": person.objected_on,
        "unsafe_on": person.unsafe_on,
        "moved_on": person.moved_on,
        "gp_agreed": person.gp_may_be_told,
        "channels": frozenset(ways.all),
        "own_channels": frozenset(ways.own) if ways.own != ways.all else None,
        "one_number": len(ways.numbers) == 1,
        "own_one_number": len(ways.own_numbers) == 1,
    }


_Since = tuple[int, datetime]
"""The history's number when something came, and the instant: it orders rows without a number."""


class _Part(NamedTuple):
    """A due that a follow-up holds, and since when."""

    follow_up_id: int
    asked_on: date
    latest: date
    from_file: bool
    held: _Since
    what: tuple[str, str, str]
    """Ear, track and kind: what replaces it has its place."""


def _parts(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> dict[int, list[_Part]]:
    """Return what some follow-ups hold, or held, what was asked for last at the end."""
    found: dict[int, list[_Part]] = defaultdict(list)
    rows = many(session, _holding(known_at), ids)
    for number, asked_on, latest, source, no, at, ear, track, kind in rows:
        what = ear, track, kind
        found[number].append(_Part(number, asked_on, latest, source == FROM_FILE, (no, at), what))
    return found


@lru_cache(maxsize=16)
def _holding(known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    link, due, visit = tables.FollowUpDue, tables.Due, tables.Visit
    days = due.asked_on, due.latest, visit.source, link.recorded_no, link.recorded_at
    return (
        select(link.follow_up_id, *days, due.ear, due.track, due.kind)
        .join_from(link, due, link.due_id == due.id)
        .outerjoin(visit, visit.id == due.visit_id)
        .where(link.follow_up_id.in_(IDS), *_held(known_at))
        .order_by(due.asked_on)
    )


def _held(known_at: datetime | None) -> tuple[ColumnElement[bool], ...]:
    """Return the conditions that a due is in a follow-up, or was at an instant."""
    link = tables.FollowUpDue
    if known_at is None:
        return (link.left_at.is_(None),)
    return link.recorded_at <= known_at, or_(link.left_at.is_(None), link.left_at > known_at)


@dataclass(frozen=True)
class _LastVisits:
    """The days of a person's last visits."""

    seen_on: date | None = None
    """Wherever it was recorded."""
    visited_on: date | None = None
    """Closed here, and not brought by a file."""


_NEVER = _LastVisits()


def last_visits(
    session: Session, person_ids: Sequence[int], known_at: datetime | None
) -> dict[int, _LastVisits]:
    """Return the last visits of some people, of those who have any."""
    rows = many(session, _visited(known_at), person_ids)
    return {person: _LastVisits(seen, visited) for person, seen, visited in rows}


@lru_cache(maxsize=16)
def _visited(known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    v = tables.Visit
    here = func.max(case((v.source != FROM_FILE, v.on)))
    wanted = select(v.person_id, func.max(v.on), here)
    return wanted.where(v.person_id.in_(IDS), stands(v, known_at)).group_by(v.person_id)


def _joined_on(
    session: Session, since: dict[int, _Since], parts: dict[int, list[_Part]]
) -> dict[int, date]:
    """Return the day after something came to a follow-up that was there, by follow-up."""
    newer = [p for some in parts.values() for p in some if p.held > since[p.follow_up_id]]
    found: dict[int, date] = {}
    first = _first_held(session, {part.follow_up_id for part in newer}) if newer else {}
    for part in newer:
        number, at = part.follow_up_id, first[part.follow_up_id, part.what]
        if at > since[number]:
            found[number] = max(at[1].date() + _DAY, found.get(number, date.min))
    return found


def _first_held(session: Session, ids: set[int]) -> dict[tuple[int, tuple[str, str, str]], _Since]:
    """Return since when some follow-ups have held each thing, whatever stood for it."""
    link, due = tables.FollowUpDue, tables.Due
    wanted = (
        select(link.follow_up_id, due.ear, due.track, due.kind, link.recorded_no, link.recorded_at)
        .join_from(link, due, link.due_id == due.id)
        .where(link.follow_up_id.in_(ids))
        .order_by(link.recorded_no.desc(), link.recorded_at.desc())
    )
    rows = many(session, wanted)
    return {(n, (ear, track, kind)): (no, at) for n, ear, track, kind, no, at in rows}


@dataclass(frozen=True)
class _Ways:
    """The ways of reaching a person."""

    all: set[Channel] = field(default_factory=set)
    own: set[Channel] = field(default_factory=set)
    """Without those of the adults who answer for a child: what is left at 16."""
    numbers: set[str] = field(default_factory=set)
    """Every number to ring, once, however often it stands there."""
    own_numbers: set[str] = field(default_factory=set)
    """Those that are left at 16."""

    def take(self, kind: Channel, value: str, role: str | None) -> None:
        """Add one way; what a responsible adult has is none of one's own."""
        is_own = role != "responsible_adult"
        some: set[Channel] = {kind}
        if kind == "phone":
            self.numbers.add(value)
            if is_own:
                self.own_numbers.add(value)
            if value.startswith("+447"):
                some.add("text")
        self.all.update(some)
        if is_own:
            self.own.update(some)

    def write_to_nobody(self) -> None:
        """Leave no letter among the ways."""
        self.all.discard("letter")
        self.own.discard("letter")


def _channels(
    session: Session, person_ids: Sequence[int], known_at: datetime | None = None
) -> dict[int, _Ways]:
    """Return the ways of reaching each person that are recorded, understood and safe."""
    found: dict[int, _Ways] = defaultdict(_Ways)
    for person_id, kind, value, role in many(session, _reached(known_at), person_ids):
        found[person_id].take("letter" if kind == "address" else kind, value, role)
    for (person_id,) in many(session, _RUNG_INSTEAD, person_ids):
        for each in (found[person_id].all, found[person_id].own):
            if "phone" in each:
                each.discard("letter")
    for person_id in without_a_way(session, person_ids):
        found[person_id].write_to_nobody()
    return found


_RUNG_INSTEAD = select(tables.Person.id).where(
    tables.Person.id.in_(IDS), tables.Person.format == SPOKEN
)


@lru_cache(maxsize=16)
def _reached(known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    c, adult = tables.ContactPoint, tables.AdultFor
    holds: ColumnElement[bool] = c.until.is_(None)
    if known_at is not None:
        holds = or_(holds, c.until > known_at.date())
    held = stands(c, known_at), c.value.is_not(None), c.safe != "no", holds
    return (
        select(c.person_id, c.kind, c.value, adult.role)
        .outerjoin(adult, adult.id == c.adult_id)
        .where(c.person_id.in_(IDS), *held)
    )
