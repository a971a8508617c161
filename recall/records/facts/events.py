"""The facts of follow-ups and referrals, from which the loop works out how they stand.

Everything that happened is put in the order in which it happened: by day, then by the instant
at which it was recorded. What was voided is left out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, TypeVar, cast, get_args

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.case import Urgency
from recall.loop import facts as loop
from recall.loop.outcomes import Channel, OutcomeId
from recall.loop.referral import ReferralEvent, ReferralLoop, What
from recall.protocol.contact_steps import LETTER_STEPS
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.tables.dues import EVENTS
from recall.records.tables.statements import many, many_whole, read_as, whole
from recall.schedule.plan import CloseReason, Reason, Referral, Stages

SPOKEN = "spoken"
"""The form of letter of somebody who is rung instead: every letter's step becomes a call."""
BY_EMAIL: frozenset[str] = frozenset({"email", "plain_text"})
"""Formats of letters that leave the house by e-mail."""
_LETTERS = frozenset(LETTER_STEPS)
_WHATS = frozenset(get_args(What))
_reasons = msgspec.json.Decoder(tuple[Reason, ...]).decode
Dated = tuple[tuple[date, datetime, int], loop.Event]
"""An event with what orders it."""
Happening = TypeVar(
    "Happening", tables.Contact, tables.Letter, tables.Booking, tables.FollowUpEvent
)


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
    earliest: date
    target: date
    latest: date
    urgency: Urgency
    closed_on: date | None
    close_reason: CloseReason | None


_ABOUT = read_as(_Person, tables.Person)
_WINDOW = read_as(_FollowUp, tables.FollowUp)


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
    happened: dict[int | None, list[Dated]] = defaultdict(list)
    for read in (_contacts, _letters, _bookings, _done):
        for follow_up_id, dated in read(session, follow_up_ids, known_at):
            happened[follow_up_id].append(dated)
    asked = _asked_on(session, follow_up_ids)
    rows = _follow_ups(session, follow_up_ids)
    channels = _channels(session, [row.person_id for row, _person in rows])
    found = {}
    for row, person in rows:
        events = [event for _order, event in sorted(happened[row.id], key=lambda dated: dated[0])]
        if row.closed_on and row.close_reason and _known(row.closed_on, known_at):
            events.append(loop.Closed(on=row.closed_on, reason=row.close_reason))
        about = _about(person, channels[row.person_id])
        found[row.id] = msgspec.structs.replace(
            about,
            asked_on=asked.get(row.id, row.on),
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
        .order_by(
            tables.ReferralEvent.on, tables.ReferralEvent.recorded_at, tables.ReferralEvent.id
        )
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
    rows = session.scalars(
        select(whole(tables.Referral)).where(tables.Referral.id.in_(referral_ids))
    )
    return {row.id: _loop(row, events[row.id]) for row in rows}


def _loop(row: tables.Referral, events: Sequence[ReferralEvent]) -> ReferralLoop:
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
    return ReferralLoop(referral=referral, route=row.route, events=tuple(events))


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
    wanted = (
        select(_WINDOW, _ABOUT)
        .join_from(tables.FollowUp, tables.Person, tables.FollowUp.person_id == tables.Person.id)
        .where(tables.FollowUp.id.in_(ids))
    )
    return session.execute(wanted).all()


def _asked_on(session: Session, ids: Sequence[int]) -> dict[int, date]:
    """Return the day of the last visit that asked, by follow-up."""
    wanted = (
        select(tables.FollowUpDue.follow_up_id, tables.Due.asked_on)
        .join_from(tables.FollowUpDue, tables.Due, tables.FollowUpDue.due_id == tables.Due.id)
        .where(tables.FollowUpDue.follow_up_id.in_(ids), tables.FollowUpDue.left_at.is_(None))
        .order_by(tables.Due.asked_on)
    )
    return dict(many(session, wanted))


def _channels(session: Session, person_ids: Sequence[int]) -> dict[int, set[Channel]]:
    """Return the ways of reaching each person that are recorded, understood and safe."""
    c = tables.ContactPoint
    wanted = select(c.person_id, c.kind, c.value).where(
        c.person_id.in_(person_ids),
        stands(tables.ContactPoint),
        c.value.is_not(None),
        c.safe != "no",
        c.until.is_(None),
    )
    found: dict[int, set[Channel]] = defaultdict(set)
    for person_id, kind, value in many(session, wanted):
        found[person_id].add("letter" if kind == "address" else kind)
        if kind == "phone" and value and value.startswith("+447"):
            found[person_id].add("text")
    p = tables.Person
    for person_id in session.scalars(select(p.id).where(p.id.in_(person_ids), p.format == SPOKEN)):
        if "phone" in found[person_id]:
            found[person_id].discard("letter")
    return found


def _happened(
    session: Session, table: type[Happening], ids: Sequence[int], known_at: datetime | None
) -> Sequence[Happening]:
    held = table.follow_up_id.in_(ids), stands(table, known_at)
    return many_whole(session, table, *held, by=table.id)


def _contacts(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> Iterable[tuple[int | None, Dated]]:
    """Give attempts; a letter that the practice sent before it had this register counts as one."""
    for row in _happened(session, tables.Contact, ids, known_at):
        if row.outcome in EVENTS:  # a row of its own says so
            continue
        if row.step in _LETTERS and row.outcome == "message_sent":
            by = cast(Literal["letter", "email"], row.channel)
            yield row.follow_up_id, (_order(row), loop.Posted(on=row.on, kind=row.step, by=by))
            continue
        event = loop.Contact(
            on=row.on,
            channel=row.channel,
            outcome=cast(OutcomeId, row.outcome),
            until=row.until,
            by_them=row.by_them,
        )
        yield row.follow_up_id, (_order(row), event)


def _letters(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> Iterable[tuple[int | None, Dated]]:
    """Give letters that left the house and letters that came back; a second home counts once."""
    told: set[tuple[int | None, int, str]] = set()
    for row in sorted(_happened(session, tables.Letter, ids, known_at), key=lambda row: row.id):
        posted_on = row.posted_on
        if not posted_on or not _known(posted_on, known_at) or row.step not in _LETTERS:
            continue
        which = row.follow_up_id, row.round, row.step
        if which not in told:
            told.add(which)
            by: Literal["email", "letter"] = "email" if row.format in BY_EMAIL else "letter"
            sent = loop.Posted(on=posted_on, kind=row.step, by=by)
            yield row.follow_up_id, ((posted_on, row.recorded_at, row.id), sent)
        if row.returned_on and _known(row.returned_on, known_at):
            back = loop.Returned(on=row.returned_on, posted_on=posted_on)
            order = (row.returned_on, row.recorded_at, row.id)
            yield row.follow_up_id, (order, back)


def _bookings(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> Iterable[tuple[int | None, Dated]]:
    of: dict[int, int | None] = {}
    for row in _happened(session, tables.Booking, ids, known_at):
        of[row.id] = row.follow_up_id
        day = row.starts_local.date()
        made = loop.Booked(on=row.on, booking=row.id, day=day, why_late=row.late_why)
        yield row.follow_up_id, (_order(row), made)
    wanted = select(whole(tables.BookingEvent)).where(
        tables.BookingEvent.booking_id.in_(of), stands(tables.BookingEvent, known_at)
    )
    for end in session.scalars(wanted):
        ended = loop.BookingEnded(
            on=end.on, booking=end.booking_id, how=cast(loop.Ending, end.what)
        )
        yield of[end.booking_id], (_order(end), ended)


def _done(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> Iterable[tuple[int | None, Dated]]:
    for row in _happened(session, tables.FollowUpEvent, ids, known_at):
        yield row.follow_up_id, (_order(row), _done_event(row))


def _done_event(row: tables.FollowUpEvent) -> loop.Event:
    match row.what:
        case "looked":
            return loop.Looked(on=row.on)
        case "address_checked":
            return loop.AddressChecked(on=row.on)
        case "gp_told":
            return loop.GpTold(on=row.on)
        case "held":
            # The table refuses one without its day.
            return loop.Held(on=row.on, until=cast(date, row.until), why=row.why)
        case _:
            return loop.Decided(on=row.on, what=row.what)


def _known(on: date, known_at: datetime | None) -> bool:
    """Return whether a day that is noted in place had come: such things are noted on their day."""
    return known_at is None or on <= known_at.date()


def _order(row: Happening | tables.BookingEvent) -> tuple[date, datetime, int]:
    return row.on, row.recorded_at, row.id
