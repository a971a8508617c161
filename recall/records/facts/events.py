"""The facts of follow-ups and referrals, from which the loop works out how they stand.

Everything that happened is put in the order in which it happened: by day, then by the
history's number when it was recorded. What was voided is left out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any, cast, get_args

import msgspec
from sqlalchemy import ColumnElement, Select, case, func, or_, select
from sqlalchemy.orm import Session

from recall.care.case import Urgency
from recall.loop import facts as loop
from recall.loop.outcomes import Channel
from recall.loop.referral import ReferralEvent, ReferralLoop, What
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.facts.happened import happened, known_by
from recall.records.tables.statements import IDS, many, read_as, whole
from recall.schedule.plan import CloseReason, Reason, Referral, Stages

SPOKEN = "spoken"
"""The form of letter of somebody who is rung instead: every letter's step becomes a call."""
_WHATS = frozenset(get_args(What))
_reasons = msgspec.json.Decoder(tuple[Reason, ...]).decode
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


_ABOUT = read_as(_Person, tables.Person)
_WINDOW = read_as(_FollowUp, tables.FollowUp)
# Each statement is made once for what is known now: making one takes longer than asking it does.
_WINDOWS = (
    select(_WINDOW, _ABOUT)
    .join_from(tables.FollowUp, tables.Person, tables.FollowUp.person_id == tables.Person.id)
    .where(tables.FollowUp.id.in_(IDS))
)


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
    rows = _follow_ups(session, follow_up_ids)
    people = [row.person_id for row, _person in rows]
    channels = _channels(session, people, known_at)
    visits = _last_visits(session, people, known_at)
    since = {row.id: (row.recorded_no, row.recorded_at) for row, _person in rows}
    joined = _joined_on(session, since, parts)
    found = {}
    for row, person in rows:
        events = [event for _order, event in sorted(told[row.id], key=lambda dated: dated[0])]
        if row.closed_on and row.close_reason and known_by(row.closed_on, known_at):
            events.append(loop.Closed(on=row.closed_on, reason=row.close_reason))
        about = _about(person, channels[row.person_id])
        found[row.id] = msgspec.structs.replace(
            about,
            asked_on=parts[row.id][-1].asked_on if row.id in parts else row.on,
            joined_on=joined.get(row.id),
            all_by=max((part.latest for part in parts.get(row.id, ())), default=row.latest),
            from_file=row.id in parts and all(part.from_file for part in parts[row.id]),
            visited_on=visits.get(row.person_id, _NEVER).visited_on,
            seen_on=visits.get(row.person_id, _NEVER).seen_on,
            earliest=row.earliest,
            target=row.target,
            latest=row.latest,
            urgency=row.urgency,
            events=tuple(events),
        )
    return found


def facts_without_follow_up(session: Session, person_ids: Sequence[int]) -> dict[int, loop.Facts]:
    """Return what is known of some people, for asks that nobody was contacted about.

    The window is blank: whoever asks puts theirs in its place.
    """
    channels = _channels(session, person_ids)
    people = select(_ABOUT).where(tables.Person.id.in_(person_ids))
    return {person.id: _about(person, channels[person.id]) for person in session.scalars(people)}


def referral_loops(
    session: Session, referral_ids: Sequence[int], known_at: datetime | None = None
) -> dict[int, ReferralLoop]:
    """Return some referrals with what became known about them, by number."""
    found: dict[int, ReferralLoop] = {}
    for some in pages(referral_ids):
        found |= _loops_page(session, some, known_at)
    return found


def _loops_page(
    session: Session, referral_ids: Sequence[int], known_at: datetime | None
) -> dict[int, ReferralLoop]:
    events: dict[int, list[ReferralEvent]] = defaultdict(list)
    wanted = (
        select(whole(tables.ReferralEvent))
        .where(
            tables.ReferralEvent.referral_id.in_(referral_ids),
            stands(tables.ReferralEvent, known_at),
        )
        .where(tables.ReferralEvent.what.in_(_WHATS))
        .order_by(tables.ReferralEvent.on, tables.ReferralEvent.id)
    )
    for row in session.scalars(wanted):
        events[row.referral_id].append(
            ReferralEvent(
                on=row.on,
                what=cast(What, row.what),
                day=row.day,
                spoke_with=row.spoke_with,
                reason=row.reason,
            )
        )
    asks = session.scalars(
        select(whole(tables.Referral)).where(tables.Referral.id.in_(referral_ids))
    ).all()
    v, asked_by = tables.Visit, [ask.visit_id for ask in asks if ask.visit_id is not None]
    files = set(session.scalars(select(v.id).where(v.id.in_(asked_by), v.source == FROM_FILE)))
    visits = _last_visits(session, [ask.person_id for ask in asks], None)
    visited = {person: last.visited_on for person, last in visits.items()}
    return {
        ask.id: _loop(ask, events[ask.id], ask.visit_id in files, visited.get(ask.person_id))
        for ask in asks
    }


def _loop(
    row: tables.Referral,
    events: Sequence[ReferralEvent],
    from_file: bool,
    visited_on: date | None,
) -> ReferralLoop:
    stages = Stages(
        sent_by=row.sent_by,
        accepted_by=row.accepted_by,
        seen_by=row.seen_by,
        result_by=row.result_by,
    )
    referral = Referral(
        to=row.to,
        ears=row.ears,
        urgency=row.urgency,
        within_days=row.within_days,
        asked_on=row.asked_on,
        stages=stages,
        reasons=_reasons(row.reasons),
    )
    return ReferralLoop(
        referral=referral,
        route=row.route,
        events=tuple(events),
        from_file=from_file,
        visited_on=visited_on,
    )


def _about(person: _Person, channels: set[Channel]) -> loop.Facts:
    """Return what is known of a person, with a blank window."""
    return loop.Facts(
        asked_on=date.min,
        earliest=date.min,
        target=date.min,
        latest=date.min,
        urgency="low",
        born=person.born,
        dependent=person.dependent,
        died_on=person.deceased_on,
        objected_on=person.objected_on,
        unsafe_on=person.unsafe_on,
        moved_on=person.moved_on,
        gp_agreed=person.gp_may_be_told,
        channels=frozenset(channels),
    )


def _follow_ups(session: Session, ids: Sequence[int]) -> Sequence[tuple[_FollowUp, _Person]]:
    """Return the follow-ups with what is known of the person."""
    return session.execute(_WINDOWS, {IDS.key: ids}).all()


_Since = tuple[int, datetime]
"""The history's number when something came, and the instant: it orders rows without a number."""


@dataclass(frozen=True)
class _Part:
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


def _last_visits(
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


def _channels(
    session: Session, person_ids: Sequence[int], known_at: datetime | None = None
) -> dict[int, set[Channel]]:
    """Return the ways of reaching each person that are recorded, understood and safe."""
    found: dict[int, set[Channel]] = defaultdict(set)
    for person_id, kind, value in many(session, _reached(known_at), person_ids):
        found[person_id].add("letter" if kind == "address" else kind)
        if kind == "phone" and value and value.startswith("+447"):
            found[person_id].add("text")
    for (person_id,) in many(session, _RUNG_INSTEAD, person_ids):
        if "phone" in found[person_id]:
            found[person_id].discard("letter")
    return found


_RUNG_INSTEAD = select(tables.Person.id).where(
    tables.Person.id.in_(IDS), tables.Person.format == SPOKEN
)


@lru_cache(maxsize=16)
def _reached(known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    c = tables.ContactPoint
    holds: ColumnElement[bool] = c.until.is_(None)
    if known_at is not None:
        holds = or_(holds, c.until > known_at.date())
    held = stands(c, known_at), c.value.is_not(None), c.safe != "no", holds
    return select(c.person_id, c.kind, c.value).where(c.person_id.in_(IDS), *held)
