"""The facts of follow-ups and referrals, from which the loop works out how they stand.

Everything that happened is put in the order in which it happened: by day, then by the instant
at which it was recorded. What was voided is left out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any, get_args

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.loop import facts as loop
from recall.loop.referral import ReferralEvent, ReferralLoop, What
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.tables.dues import EVENTS
from recall.schedule.plan import Reason, Referral, Stages

_contact: Any = tables.Contact.__table__
_letter: Any = tables.Letter.__table__
_booking: Any = tables.Booking.__table__
_ended: Any = tables.BookingEvent.__table__
_event: Any = tables.FollowUpEvent.__table__
_follow_up: Any = tables.FollowUp.__table__
_link: Any = tables.FollowUpDue.__table__
_due: Any = tables.Due.__table__
_person: Any = tables.Person.__table__
_reach: Any = tables.Reach.__table__
_referral: Any = tables.Referral.__table__
_referred: Any = tables.ReferralEvent.__table__

SPOKEN = "spoken"
"""The form of letter of somebody who is rung instead: every letter's step becomes a call."""
BY_EMAIL: frozenset[str] = frozenset({"email", "plain_text"})
"""Formats of letters that leave the house by e-mail."""
_LETTERS = frozenset(get_args(loop.LetterKind))
_WHATS = frozenset(get_args(What))
_reasons = msgspec.json.Decoder(tuple[Reason, ...]).decode
Dated = tuple[tuple[date, datetime, int], Any]
"""An event with what orders it."""


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
    happened: dict[int, list[Dated]] = defaultdict(list)
    for read in (_contacts, _letters, _bookings, _done):
        for follow_up_id, dated in read(session, follow_up_ids, known_at):
            happened[follow_up_id].append(dated)
    return {
        row["id"]: _facts(row, happened[row["id"]], channels, known_at)
        for row, channels in _follow_ups(session, follow_up_ids)
    }


def facts_without_follow_up(session: Session, person_ids: Sequence[int]) -> dict[int, loop.Facts]:
    """Return what is known of some people, for asks that nobody was contacted about.

    The window is blank: whoever asks puts theirs in its place.
    """
    names = ("id", "born", "dependent", "deceased_on", "objected_on", "unsafe_on", "moved_on")
    wanted = select(*(_person.c[n] for n in names), _person.c.gp_may_be_told)
    channels = _channels(session, person_ids)
    blank = dict.fromkeys(("asked_on", "earliest", "target", "latest"), date.min)
    made = {"urgency": "low", "closed_on": None, **blank}
    rows = session.execute(wanted.where(_person.c.id.in_(person_ids))).mappings()
    return {
        row["id"]: _facts({**row, **made}, [], frozenset(channels[row["id"]]), None) for row in rows
    }


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
        select(_referred)
        .where(_referred.c.referral_id.in_(referral_ids), stands(_referred, known_at))
        .where(_referred.c.what.in_(_WHATS))
        .order_by(_referred.c.on, _referred.c.recorded_at, _referred.c.id)
    )
    names = ReferralEvent.__struct_fields__
    for row in session.execute(wanted).mappings():
        events[row["referral_id"]].append(ReferralEvent(**{n: row[n] for n in names}))
    rows = session.execute(select(_referral).where(_referral.c.id.in_(referral_ids))).mappings()
    return {row["id"]: _loop(row, events[row["id"]]) for row in rows}


def _loop(row: Any, events: Sequence[ReferralEvent]) -> ReferralLoop:
    names = ("to", "ears", "urgency", "within_days", "asked_on")
    stages = Stages(**{n: row[n] for n in Stages.__struct_fields__})
    referral = Referral(
        **{n: row[n] for n in names}, stages=stages, reasons=_reasons(row["reasons"])
    )
    return ReferralLoop(referral=referral, route=row["route"], events=tuple(events))


def _facts(
    row: Any, happened: list[Dated], channels: frozenset[Any], known_at: datetime | None
) -> loop.Facts:
    events = [event for _order, event in sorted(happened, key=lambda dated: dated[0])]
    if _known(row["closed_on"], known_at):
        events.append(loop.Closed(on=row["closed_on"], reason=row["close_reason"]))
    return loop.Facts(
        asked_on=row["asked_on"],
        earliest=row["earliest"],
        target=row["target"],
        latest=row["latest"],
        urgency=row["urgency"],
        born=row["born"],
        dependent=row["dependent"],
        died_on=row["deceased_on"],
        objected_on=row["objected_on"],
        unsafe_on=row["unsafe_on"],
        moved_on=row["moved_on"],
        gp_agreed=row["gp_may_be_told"],
        channels=channels,
        events=tuple(events),
    )


def _follow_ups(session: Session, ids: Sequence[int]) -> Iterable[tuple[Any, frozenset[Any]]]:
    """Give the follow-ups with what is known of the person, and the ways to reach them."""
    about = ("born", "dependent", "deceased_on", "objected_on", "unsafe_on", "moved_on")
    rows = session.execute(
        select(_follow_up, *(_person.c[n] for n in about), _person.c.gp_may_be_told)
        .join_from(_follow_up, _person, _follow_up.c.person_id == _person.c.id)
        .where(_follow_up.c.id.in_(ids))
    ).mappings()
    asked = _asked_on(session, ids)
    found = [{**row, "asked_on": asked.get(row["id"], row["on"])} for row in rows]
    channels = _channels(session, [row["person_id"] for row in found])
    return [(row, frozenset(channels[row["person_id"]])) for row in found]


def _asked_on(session: Session, ids: Sequence[int]) -> dict[int, date]:
    """Return the day of the last visit that asked, by follow-up."""
    wanted = (
        select(_link.c.follow_up_id, _due.c.asked_on)
        .join_from(_link, _due, _link.c.due_id == _due.c.id)
        .where(_link.c.follow_up_id.in_(ids), _link.c.left_at.is_(None))
        .order_by(_due.c.asked_on)
    )
    return dict(session.execute(wanted).all())


def _channels(session: Session, person_ids: Sequence[int]) -> dict[int, set[str]]:
    """Return the ways of reaching each person that are recorded, understood and safe."""
    wanted = select(_reach.c.person_id, _reach.c.kind, _reach.c.value).where(
        _reach.c.person_id.in_(person_ids),
        stands(_reach),
        _reach.c.value.is_not(None),
        _reach.c.safe != "no",
        _reach.c.until.is_(None),
    )
    found: dict[int, set[str]] = defaultdict(set)
    for person_id, kind, value in session.execute(wanted):
        found[person_id].add("letter" if kind == "address" else kind)
        if kind == "phone" and value.startswith("+447"):
            found[person_id].add("text")
    p = _person.c
    for person_id in session.scalars(select(p.id).where(p.id.in_(person_ids), p.format == SPOKEN)):
        if "phone" in found[person_id]:
            found[person_id].discard("letter")
    return found


def _happened(
    session: Session, table: Any, ids: Sequence[int], known_at: datetime | None
) -> Iterable[Any]:
    held = table.c.follow_up_id.in_(ids), stands(table, known_at)
    return session.execute(select(table).where(*held)).mappings()


def _contacts(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> Iterable[tuple[int, Dated]]:
    """Give attempts; a letter that the practice sent before it had this register counts as one."""
    for row in _happened(session, _contact, ids, known_at):
        if row["outcome"] in EVENTS:  # a row of its own says so
            continue
        if row["step"] in _LETTERS and row["outcome"] == "message_sent":
            sent = loop.Posted(on=row["on"], kind=row["step"], by=row["channel"])
            yield row["follow_up_id"], (_order(row), sent)
            continue
        names = ("on", "channel", "outcome", "until", "by_them")
        yield row["follow_up_id"], (_order(row), loop.Contact(**{n: row[n] for n in names}))


def _letters(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> Iterable[tuple[int, Dated]]:
    """Give letters that left the house and letters that came back; a second home counts once."""
    told: set[tuple[int, int, str]] = set()
    for row in sorted(_happened(session, _letter, ids, known_at), key=lambda row: row["id"]):
        posted_on = row["posted_on"]
        if not _known(posted_on, known_at) or row["step"] not in _LETTERS:
            continue
        which = row["follow_up_id"], row["round"], row["step"]
        if which not in told:
            told.add(which)
            by: Any = "email" if row["format"] in BY_EMAIL else "letter"
            sent = loop.Posted(on=posted_on, kind=row["step"], by=by)
            yield row["follow_up_id"], ((posted_on, row["recorded_at"], row["id"]), sent)
        if _known(row["returned_on"], known_at):
            back = loop.Returned(on=row["returned_on"], posted_on=posted_on)
            order = (row["returned_on"], row["recorded_at"], row["id"])
            yield row["follow_up_id"], (order, back)


def _bookings(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> Iterable[tuple[int, Dated]]:
    of: dict[int, int] = {}
    for row in _happened(session, _booking, ids, known_at):
        of[row["id"]] = row["follow_up_id"]
        day = row["starts_local"].date()
        made = loop.Booked(on=row["on"], booking=row["id"], day=day, why_late=row["late_why"])
        yield row["follow_up_id"], (_order(row), made)
    wanted = select(_ended).where(_ended.c.booking_id.in_(of), stands(_ended, known_at))
    for row in session.execute(wanted).mappings():
        ended = loop.BookingEnded(on=row["on"], booking=row["booking_id"], how=row["what"])
        yield of[row["booking_id"]], (_order(row), ended)


def _done(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> Iterable[tuple[int, Dated]]:
    plain = {
        "looked": loop.Looked,
        "address_checked": loop.AddressChecked,
        "gp_told": loop.GpTold,
    }
    for row in _happened(session, _event, ids, known_at):
        event: Any
        if row["what"] in plain:
            event = plain[row["what"]](on=row["on"])
        elif row["what"] == "held":
            event = loop.Held(on=row["on"], until=row["until"], why=row["why"])
        else:
            event = loop.Decided(on=row["on"], what=row["what"])
        yield row["follow_up_id"], (_order(row), event)


def _known(on: date | None, known_at: datetime | None) -> bool:
    """Return whether a day that is noted in place had come: such things are noted on their day."""
    return on is not None and (known_at is None or on <= known_at.date())


def _order(row: Any) -> tuple[date, datetime, int]:
    return row["on"], row["recorded_at"], row["id"]
