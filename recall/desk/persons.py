"""Everything about one person on one card: both ears' history, what is open, how to reach them.

Also for somebody who rings in or walks in: what is open for them, and what to say aloud.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.case import Case, Visit
from recall.desk.acting import said
from recall.desk.cautions import cautions
from recall.desk.looking_up import person_row
from recall.desk.seen_words import ear_lines, history_lines
from recall.desk.session import Desk
from recall.loop.addressee import own_contact_asked, stopped_because
from recall.loop.bookings import open_booking
from recall.loop.outlook import outlook
from recall.loop.referral import state
from recall.loop.standing import standing
from recall.records import tables
from recall.records.cases import case_for, stands
from recall.records.events import facts_for, referral_loops
from recall.records.finding import Found
from recall.records.finding import find as find_people
from recall.records.reaching import ReachRow, reachable
from recall.schedule.calendar import say_day

_follow_up: Any = tables.FollowUp.__table__
_link: Any = tables.FollowUpDue.__table__
_due: Any = tables.Due.__table__
_contact: Any = tables.Contact.__table__
_letter: Any = tables.Letter.__table__
_referral: Any = tables.Referral.__table__
_adult: Any = tables.AdultFor.__table__
_risk: Any = tables.PersonRisk.__table__
_history: Any = tables.History.__table__
_payload: Any = tables.HistoryPayload.__table__


@dataclass(frozen=True)
class OpenFollowUp:
    """One open follow-up of a person, and how it stands today."""

    id: int
    version: int
    ears: tuple[str, ...]
    tracks: tuple[str, ...]
    do: tuple[str, ...]
    earliest: date
    target: date
    latest: date
    offer_on: date | None
    urgency: str
    standing: str
    late_by_days: int
    step: str
    on: date
    why: str
    says: tuple[str, ...]
    says_aloud: tuple[str, ...]
    """What may be said once it is known who they are."""
    booking_id: int | None
    booked_on: date | None
    ahead: tuple[str, ...]
    """What would follow if nobody were heard from."""


@dataclass(frozen=True)
class OpenReferral:
    """One open referral of a person."""

    id: int
    version: int
    to: str
    ears: tuple[str, ...]
    urgency: str
    route: str
    stage: str
    chase_on: date | None
    why: str
    seen_by: date


@dataclass(frozen=True)
class Seen:
    """One visit, both ears side by side."""

    on: date
    examiner: str
    right: tuple[str, ...]
    left: tuple[str, ...]


@dataclass(frozen=True)
class Tried:
    """One contact or letter, newest first on the card."""

    on: date
    words: str


@dataclass(frozen=True)
class AdultLine:
    """Somebody who answers for a person."""

    id: int
    name: str
    role: str
    relation: str
    instead: bool


@dataclass(frozen=True)
class RiskLine:
    """One risk on record."""

    id: int
    what: str
    ear: str | None
    since: str | None
    until: str | None


@dataclass(frozen=True)
class PersonCard:
    """Everything about one person."""

    id: int
    version: int
    ref: str
    name: str
    known_as: str
    born: date
    needs: tuple[str, ...]
    language: str
    format: str
    gp: str
    caller_note: str
    warnings: tuple[str, ...]
    """Death, objection, not safe, moved, what to ask a young person."""
    cautions: tuple[str, ...]
    reach: tuple[ReachRow, ...]
    adults: tuple[AdultLine, ...]
    risks: tuple[RiskLine, ...]
    history: tuple[str, ...]
    visits: tuple[Seen, ...]
    follow_ups: tuple[OpenFollowUp, ...]
    referrals: tuple[OpenReferral, ...]
    tried: tuple[Tried, ...]
    notes: tuple[Tried, ...]


def find(desk: Desk, text: str, limit: int = 30) -> tuple[Found, ...]:
    """Return the people that fit everything in the text, best first."""
    with desk.store.read() as session:
        return find_people(session, text, limit)


def person(desk: Desk, ref: str) -> PersonCard:
    """Return everything about one person.

    Raises:
        NotFound: no such reference.
    """
    with desk.store.read() as session:
        row = person_row(session, ref)
        number = row["id"]
        case = case_for(session, number)
        way = reachable(session, [number], desk.today)[number]
        visits = tuple(_seen(v) for v in reversed(case.visits))
        return PersonCard(
            id=number,
            version=row["version"],
            ref=row["ref"],
            name=f"{row['given_names']} {row['family_name']}".strip(),
            known_as=row["known_as"],
            born=row["born"],
            needs=row["needs"],
            language=row["language"],
            format=row["format"],
            gp=row["gp"],
            caller_note=row["caller_note"],
            warnings=_warnings(desk, way.person),
            cautions=tuple(c.words for c in cautions(case, desk.today)),
            reach=way.ways,
            adults=_lines(session, _adult, AdultLine, number, desk.today),
            risks=_lines(session, _risk, RiskLine, number, None),
            history=history_lines(case, _last(case)),
            visits=visits,
            follow_ups=open_follow_ups(desk, session, number),
            referrals=open_referrals(desk, session, number),
            tried=_tried(session, number),
            notes=_notes(session, number),
        )


def open_follow_ups(desk: Desk, session: Session, person_id: int) -> tuple[OpenFollowUp, ...]:
    """Return a person's open follow-ups, the most pressing first."""
    c = _follow_up.c
    wanted = select(_follow_up).where(c.person_id == person_id, c.is_open, stands(_follow_up))
    rows = session.execute(wanted.order_by(c.urgency_rank, c.latest, c.id)).mappings().all()
    facts = facts_for(session, [row["id"] for row in rows])
    dues = _dues(session, [row["id"] for row in rows])
    return tuple(_open(desk, row, facts[row["id"]], dues.get(row["id"], [])) for row in rows)


def open_referrals(desk: Desk, session: Session, person_id: int) -> tuple[OpenReferral, ...]:
    """Return a person's open referrals, the most pressing first."""
    c = _referral.c
    wanted = select(_referral).where(c.person_id == person_id, c.is_open, stands(_referral))
    rows = session.execute(wanted.order_by(c.urgency_rank, c.id)).mappings().all()
    loops = referral_loops(session, [row["id"] for row in rows])
    found = []
    for row in rows:
        now = state(loops[row["id"]], desk.today, desk.protocol.contact, desk.calendar)
        same = ("id", "version", "to", "ears", "urgency", "route", "seen_by")
        mine = {n: row[n] for n in same}
        found.append(OpenReferral(**mine, stage=now.stage, chase_on=now.chased_on, why=now.why))
    return tuple(found)


def _open(desk: Desk, row: Any, facts: Any, dues: list[Any]) -> OpenFollowUp:
    rules = desk.protocol.contact
    now = standing(facts, desk.today, rules)
    assert now.step is not None, "an open follow-up always has a step"
    booked = open_booking(facts.events)
    same = ("id", "version", "ears", "tracks", "do", "earliest", "target", "latest", "offer_on")
    ahead = outlook(facts, desk.today, rules)[1:]
    return OpenFollowUp(
        **{n: row[n] for n in same},
        urgency=now.urgency,
        standing=now.word,
        late_by_days=now.late_by_days,
        step=now.step.kind,
        on=now.step.on,
        why=now.why,
        says=tuple(dict.fromkeys(d.says for d in dues)),
        says_aloud=tuple(dict.fromkeys(d.says_aloud for d in dues if d.says_aloud)),
        booking_id=booked.booking if booked else None,
        booked_on=booked.day if booked else None,
        ahead=tuple(f"{say_day(s.on)}: {s.kind.replace('_', ' ')}" for s in ahead),
    )


def _dues(session: Session, follow_up_ids: list[int]) -> dict[int, list[Any]]:
    wanted = (
        select(_link.c.follow_up_id, _due.c.says, _due.c.says_aloud)
        .join_from(_link, _due, _link.c.due_id == _due.c.id)
        .where(_link.c.follow_up_id.in_(follow_up_ids), _link.c.left_at.is_(None), _due.c.is_open)
        .order_by(_due.c.latest, _due.c.id)
    )
    found: dict[int, list[Any]] = {}
    for row in session.execute(wanted):
        found.setdefault(row.follow_up_id, []).append(row)
    return found


def _warnings(desk: Desk, known: Any) -> tuple[str, ...]:
    stopped = stopped_because(known, desk.today)
    ask = own_contact_asked(known, desk.today, desk.protocol.contact)
    return tuple(filter(None, (stopped[:1].upper() + stopped[1:], ask)))


def _last(case: Case) -> Visit | None:
    return case.visits[-1] if case.visits else None


def _seen(visit: Visit) -> Seen:
    examiner = visit.examiner or "not recorded"
    return Seen(visit.on, examiner, ear_lines(visit.right), ear_lines(visit.left))


def _lines(session: Session, table: Any, kind: Any, person_id: int, on: date | None) -> Any:
    names = kind.__dataclass_fields__
    wanted = select(*(table.c[n] for n in names)).where(
        table.c.person_id == person_id, stands(table)
    )
    if on is not None:
        wanted = wanted.where(table.c.until.is_(None) | (table.c.until > on))
    return tuple(kind(**r._mapping) for r in session.execute(wanted.order_by(table.c.id)))


def _tried(session: Session, person_id: int) -> tuple[Tried, ...]:
    """Return contacts and letters, the newest first."""
    c, p = _contact.c, _letter.c
    calls = select(c.on, c.recorded_at, c.channel, c.outcome, c.by_them, c.note).where(
        c.person_id == person_id, stands(_contact)
    )
    found: list[tuple[date, datetime, str]] = []
    for on, at, channel, outcome, by_them, note in session.execute(calls):
        words = f"{channel}, {outcome}".replace("_", " ") + (", by them" if by_them else "")
        found.append((on, at, f"{words}: {note}" if note else words))
    letters = select(p.on, p.recorded_at, p.kind, p.posted_on, p.returned_on, p.held_why).where(
        p.person_id == person_id, stands(_letter)
    )
    for on, at, kind, posted_on, returned_on, held_why in session.execute(letters):
        how = "returned" if returned_on else "posted" if posted_on else "not posted yet"
        how = f"held: {held_why}" if held_why else how
        found.append((posted_on or on, at, f"letter, {kind.replace('_', ' ')}: {how}"))
    return tuple(Tried(on, words) for on, _at, words in sorted(found, reverse=True))


def _notes(session: Session, person_id: int) -> tuple[Tried, ...]:
    h = _history.c
    wanted = (
        select(h.at, _payload.c.content)
        .join_from(_history, _payload, _payload.c.history_id == h.id)
        .where(h.person_id == person_id, h.what == "noted")
        .order_by(h.id.desc())
    )
    rows = session.execute(wanted).all()
    return tuple(Tried(at.date(), said(content)["now"]) for at, content in rows if content)
