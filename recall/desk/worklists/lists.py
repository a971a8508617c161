"""The lists: whom to contact, who is overdue, who is lost, which referrals to chase.

Standing is worked out from facts on the desk's day. Nothing clinical is in a row unless it is
asked for: lists lie about on desks.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import msgspec
from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from recall.care.case import URGENCIES
from recall.desk.core.guarding import needs
from recall.desk.core.person_header import Whom, whom
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.status_on import Stood, Which, stood
from recall.loop.bookings import open_booking
from recall.loop.contact_steps import FIRST_OF_ALL
from recall.loop.facts import Contact, Facts, Posted
from recall.loop.outcomes import BY_ID
from recall.loop.referral import state
from recall.protocol.contact import LETTER_STEPS
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.facts.events import referral_loops
from recall.schedule.calendar import say_day

_referral: Any = tables.Referral.__table__


@dataclass(frozen=True)
class Line:
    """One follow-up on a list."""

    urgency: str
    reference: str
    name: str
    born: date
    postcode: str
    ask_for: str
    number: str
    why: str
    """As it may be said aloud."""
    step: str
    next_step_on: date | None
    next: str
    latest: date
    late_by_days: int
    standing: str
    booked_on: date | None
    tried: str
    contact_stopped: str | None
    """Why nobody may ring or write about this; None where somebody may."""
    warnings: tuple[str, ...]
    clinical: str
    """What was found and by which rule; empty unless asked for."""
    follow_up_id: int | None
    version: int
    person_id: int


@dataclass(frozen=True)
class ReferralLine:
    """One referral on a list."""

    urgency: str
    reference: str
    name: str
    born: date
    postcode: str
    to: str
    stage: str
    chase_on: date
    late_by_days: int
    next: str
    by_phone: bool
    route: str
    asked_on: date
    seen_by: date
    contact_stopped: str | None
    """Why nobody may ring or write about this; None where somebody may."""
    warnings: tuple[str, ...]
    clinical: str
    referral_id: int
    version: int
    person_id: int


@dataclass(frozen=True)
class Counts:
    """How long the lists are on the desk's day."""

    queue: int
    overdue: int
    lost: int
    referrals: int
    letters: int
    unconfirmed: int


@needs(Right.LOOK)
def queue(
    desk: Desk,
    *,
    limit: int | None = None,
    offset: int = 0,
    letters: bool = False,
    clinical: bool = False,
    known_at: datetime | None = None,
) -> tuple[Line, ...]:
    """Return whom the desk is to contact, the most pressing first.

    Args:
        desk: whose day it is.
        limit: at most so many.
        offset: leave out so many first.
        letters: show the steps that the weekly letters do as well.
        clinical: say what was found.
        known_at: an instant; what was recorded later is left out.
    """
    found = [
        s
        for s in _stood(desk, "next_step" if letters else "calls", known_at)
        if s.standing.word == "to_contact" and (letters or not _by_letter(s))
    ]
    return _lines(desk, found, clinical, limit, offset)


@needs(Right.LOOK)
def overdue(
    desk: Desk,
    *,
    limit: int | None = None,
    offset: int = 0,
    clinical: bool = False,
    known_at: datetime | None = None,
) -> tuple[Line, ...]:
    """Return everybody open past the latest day, booked or not, the most pressing first."""
    found = [s for s in _stood(desk, "late", known_at) if s.standing.overdue]
    return _lines(desk, found, clinical, limit, offset)


@needs(Right.LOOK)
def lost(
    desk: Desk,
    *,
    limit: int | None = None,
    offset: int = 0,
    clinical: bool = False,
    known_at: datetime | None = None,
) -> tuple[Line, ...]:
    """Return those for whom every contact step is used up: a named decision is awaited."""
    found = [s for s in _stood(desk, "next_step", known_at) if s.standing.word == "lost"]
    return _lines(desk, found, clinical, limit, offset)


@needs(Right.LOOK)
def counts(desk: Desk) -> Counts:
    """Return how long the lists are, for the head of a screen."""
    with desk.store.read() as session:
        now = stood(desk, session, "next_step")
        late = stood(desk, session, "late")
        chased = sum(_is_due(desk, found) for _row, found in _referrals_then(desk, session))
        visit: Any = tables.Visit.__table__
        waiting = select(visit.c.id).where(visit.c.confirmed_at.is_(None), stands(visit))
        unconfirmed = len(session.scalars(waiting).all())
    to_contact = [s for s in now if s.standing.word == "to_contact"]
    by_letter = sum(_by_letter(s) for s in to_contact)
    return Counts(
        queue=len(to_contact) - by_letter,
        overdue=sum(s.standing.overdue for s in late),
        lost=sum(s.standing.word == "lost" for s in now),
        referrals=chased,
        letters=by_letter,
        unconfirmed=unconfirmed,
    )


def _stood(desk: Desk, which: Which, known_at: datetime | None) -> list[Stood]:
    with desk.store.read() as session:
        return stood(desk, session, which, known_at)


def _by_letter(found: Stood) -> bool:
    return found.standing.step is not None and found.standing.step.kind in LETTER_STEPS


def pressing(found: Stood) -> tuple[Any, ...]:
    """Return what puts the most pressing first: what a clinician would want to see first."""
    step = found.standing.step
    return (
        URGENCIES.index(found.standing.urgency),
        step is None or step.kind not in FIRST_OF_ALL,
        found.facts.latest,
        found.standing.next_step_on or date.max,
        found.person_id,
        found.follow_up_id or 0,
    )


def _lines(
    desk: Desk, found: Iterable[Stood], clinical: bool, limit: int | None, offset: int
) -> tuple[Line, ...]:
    ordered = sorted(found, key=pressing)
    shown = ordered[offset : None if limit is None else offset + limit]
    with desk.store.read() as session:
        people = whom(session, [s.person_id for s in shown], desk.today, desk.protocol.contact)
    return tuple(line_of(s, people[s.person_id], desk.today, clinical) for s in shown)


def line_of(found: Stood, who: Whom, on: date, clinical: bool = False) -> Line:
    """Return one follow-up as the lists show it."""
    step, booked = found.standing.step, open_booking(_until(found.facts, on))
    waits = () if found.is_confirmed else ("The plan is not confirmed yet by a clinician.",)
    return Line(
        urgency=found.standing.urgency,
        reference=who.reference,
        name=who.name,
        born=who.born,
        postcode=who.postcode,
        ask_for=who.ask_for,
        number=who.number,
        why=why_aloud(found),
        step=step.kind if step else "",
        next_step_on=found.standing.next_step_on,
        next=found.standing.why,
        latest=found.facts.latest,
        late_by_days=found.standing.late_by_days,
        standing=found.standing.word,
        booked_on=booked.day if booked else None,
        tried=tried(found.facts, on),
        contact_stopped=who.contact_stopped,
        warnings=(*who.warnings, *waits),
        clinical=_clinical(found) if clinical else "",
        follow_up_id=found.follow_up_id,
        version=found.version,
        person_id=found.person_id,
    )


def why_aloud(found: Stood) -> str:
    """Return why the person is asked to come, as it may be said aloud."""
    said = dict.fromkeys(due.says_aloud for due in found.dues if due.says_aloud)
    return " ".join(said) or "It is time for another visit."


def tried(facts: Facts, on: date) -> str:
    """Return in words how often and how it was tried to reach the person.

    >>> from recall.loop.facts import Posted
    >>> day = date(2026, 9, 1)
    >>> facts = Facts(asked_on=day, earliest=day, target=day, latest=day, urgency="low", born=day,
    ...               events=(Posted(on=day, kind="invitation"),))
    >>> tried(facts, day)
    '1 letter; last on 1 September 2026: letter'
    """
    events = _until(facts, on)
    posted = [e for e in events if isinstance(e, Posted)]
    calls = [e for e in events if isinstance(e, Contact) and not e.by_them]
    if not posted and not calls:
        return ""
    told = [_times(len(posted), "letter"), _times(len(calls), "call")]
    ways: list[Posted | Contact] = [*posted, *calls]
    last = max(ways, key=lambda e: e.on)
    what = "letter" if isinstance(last, Posted) else BY_ID[last.outcome].words.lower()
    return f"{', '.join(filter(None, told))}; last on {say_day(last.on)}: {what}"


def _times(count: int, what: str) -> str:
    return f"{count} {what}{'s' * (count > 1)}" if count else ""


def _until(facts: Facts, on: date) -> Sequence[Any]:
    return [event for event in facts.events if event.on <= on]


def _clinical(found: Stood) -> str:
    return " ".join(
        f"{due.ear.capitalize()} ear, {due.track.replace('_', ' ')}: {due.says} "
        f"({due.rule}; {due.source})"
        for due in found.dues
    )


@needs(Right.LOOK)
def referrals(
    desk: Desk,
    *,
    everything: bool = False,
    clinical: bool = False,
    limit: int | None = None,
    offset: int = 0,
    known_at: datetime | None = None,
) -> tuple[ReferralLine, ...]:
    """Return the referrals to be chased, or all open ones, the most pressing first."""
    with desk.store.read() as session:
        found = [
            (row, state_then)
            for row, state_then in _referrals_then(desk, session, known_at)
            if everything or _is_due(desk, state_then)
        ]
        found.sort(key=lambda f: (f[0]["urgency_rank"], f[1].chased_on, f[0]["id"]))
        shown = found[offset : None if limit is None else offset + limit]
        ids = [row["person_id"] for row, _ in shown]
        people = whom(session, ids, desk.today, desk.protocol.contact)
    return tuple(
        _referral_line(row, found, people[row["person_id"]], desk.today, clinical)
        for row, found in shown
    )


def _is_due(desk: Desk, found: Any) -> bool:
    return found.chased_on is None or found.chased_on <= desk.today


def _referrals_then(
    desk: Desk, session: Session, known_at: datetime | None = None
) -> list[tuple[Any, Any]]:
    """Return the referrals that were open on the desk's day, each with how it stood."""
    c = _referral.c
    wanted = select(_referral).where(
        c.asked_on <= desk.today,
        stands(_referral, known_at),
        or_(c.is_open, c.ended_on > desk.today),
    )
    found = []
    rows = {row["id"]: row for row in session.execute(wanted.order_by(c.id)).mappings()}
    for ids in pages(rows):
        loops = referral_loops(session, ids, known_at)
        for number in ids:
            then = state(loops[number], desk.today, desk.protocol.contact, desk.calendar)
            if then.is_open:
                found.append((rows[number], then))
    return found


def _referral_line(row: Any, found: Any, who: Whom, on: date, clinical: bool) -> ReferralLine:
    chase_on = found.chased_on or on
    return ReferralLine(
        urgency=row["urgency"],
        reference=who.reference,
        name=who.name,
        born=who.born,
        postcode=who.postcode,
        to=row["to"],
        stage=found.stage,
        chase_on=chase_on,
        late_by_days=max(0, (on - chase_on).days),
        next=found.why,
        by_phone=found.by_phone,
        route=row["route"],
        asked_on=row["asked_on"],
        seen_by=row["seen_by"],
        contact_stopped=who.contact_stopped,
        warnings=who.warnings,
        clinical=_reasons(row) if clinical else "",
        referral_id=row["id"],
        version=row["version"],
        person_id=row["person_id"],
    )


def _reasons(row: Any) -> str:
    reasons = msgspec.json.decode(row["reasons"])
    return " ".join(f"{r['ear'].capitalize()} ear: {r['says']} ({r['rule']})" for r in reasons)
