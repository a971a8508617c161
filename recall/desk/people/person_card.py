"""Everything about one person on one card: both ears' history, what is open, how to reach them.

Also for somebody who rings in or walks in: what is open for them, and what to say aloud.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.case import Case, Visit
from recall.desk.core.done import said
from recall.desk.core.guarding import needs
from recall.desk.core.looking import looks
from recall.desk.core.person_lookup import person_row
from recall.desk.core.replanning import decided_by_people
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.core.stopped_beside import stopped_beside
from recall.desk.people.ringing_back import rung_today
from recall.desk.plans.judging import JudgedLine, judged_lines
from recall.desk.visits.cautions import cautions
from recall.desk.visits.findings_words import ear_lines, history_lines
from recall.desk.worklists.matter_list import MatterLine, about_person
from recall.desk.worklists.open_items import (
    UNSAID,
    LooseAppointment,
    OpenFollowUp,
    OpenReferral,
    loose_appointments,
    open_follow_ups,
    open_referrals,
)
from recall.desk.worklists.spoken_with import spoken_about
from recall.loop.addressee import Person, contact_stopped, contact_warnings, to_ask
from recall.records import tables
from recall.records.facts.cases import case_for, pages, stands
from recall.records.people.addresses import ContactPointRow, Reachable, reachable
from recall.records.people.finding import Found
from recall.records.people.finding import find as find_people
from recall.records.tables.statements import read_as
from recall.schedule.calendar import say_day
from recall.schedule.fold import folding

_DONE = {
    "address_checked": "address checked",
    "gp_told": "GP or referrer told",
    "held": "held back",
}
"""What else was done to reach somebody, in words."""


@dataclass(frozen=True)
class VisitFindings:
    """One visit, both ears side by side."""

    on: date
    examiner: str
    right: tuple[str, ...]
    left: tuple[str, ...]
    note: str = ""
    """The visit's own note, typed or from a file."""


@dataclass(frozen=True)
class Tried:
    """One contact, letter, check or hold, newest first on the card."""

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
    contact_stopped: str | None
    """Why nobody may ring or write; None where somebody may."""
    warnings: tuple[str, ...]
    """Death, objection, not safe, moved, what to ask a young person."""
    cautions: tuple[str, ...]
    contact_points: tuple[ContactPointRow, ...]
    adults: tuple[AdultLine, ...]
    risks: tuple[RiskLine, ...]
    history: tuple[str, ...]
    visits: tuple[VisitFindings, ...]
    follow_ups: tuple[OpenFollowUp, ...]
    referrals: tuple[OpenReferral, ...]
    loose: tuple[LooseAppointment, ...]
    """Appointments to come whose follow-up is closed by now."""
    judged: tuple[JudgedLine, ...]
    """Lines that somebody struck out or weighed anew, and that still hold."""
    tried: tuple[Tried, ...]
    notes: tuple[Tried, ...]
    matters: tuple[MatterLine, ...]
    """What somebody sees to about them."""
    title: str
    given_names: str
    family_name: str
    rung: tuple[str, ...]
    """When we rang them today, by whom and about what, the last call first."""
    spoken: str
    """The last call of today to whoever is asked for, about another; empty without one."""
    clinical: bool
    """Whether it tells findings; else what was seen, and what to mind, is left out."""
    nhs_number: str
    """As it is stored, or as it was given where it is no valid one."""
    site: str = ""
    """The handle of the site they belong to, where there are several; empty: to all."""


@needs(Right.LOOK)
def find(desk: Desk, text: str, limit: int = 30) -> tuple[Found, ...]:
    """Return the people that fit everything in the text, best first."""
    with desk.store.read() as session:
        return find_people(session, text, limit)


@needs(Right.LOOK)
def contact_stopped_for(desk: Desk, refs: Sequence[str]) -> dict[str, str]:
    """Return why nobody may ring or write, by reference, for those of whom it is so."""
    p = tables.Person
    wanted = select(p.ref, p.born, p.deceased_on, p.objected_on, p.unsafe_on)
    found: dict[str, str] = {}
    with desk.store.read() as session:
        for some in pages(refs):
            rows = session.execute(wanted.where(p.ref.in_(some)).order_by(p.id))
            for ref, born, died, objected, unsafe in rows:
                who = Person(born=born, died_on=died, objected_on=objected, unsafe_on=unsafe)
                found[ref] = contact_stopped(who, desk.today) or ""
    return {ref: because for ref, because in found.items() if because}


@needs(Right.LOOK)
@looks
def person(desk: Desk, ref: str, *, clinical: bool | None = None) -> PersonCard:
    """Return everything about one person.

    Args:
        desk: who looks, on which day.
        ref: whose card it is.
        clinical: tell what was seen, what to mind and what is asked as colleagues say it, and not
            only what may be said aloud; where left out, to whoever examines ears.

    Raises:
        NotFound: no such reference.
    """
    whole = _whole(desk, ref)
    is_told = desk.by.may_decide if clinical is None else clinical
    return whole if is_told else _without_findings(whole)


def _whole(desk: Desk, ref: str) -> PersonCard:
    with desk.store.read() as session:
        row = person_row(session, ref)
        number = row.id
        case = case_for(session, number)
        way = reachable(session, [number], desk.today)[number]
        return PersonCard(
            id=number,
            version=row.version,
            ref=row.ref,
            name=f"{row.given_names} {row.family_name}".strip(),
            known_as=row.known_as,
            born=row.born,
            needs=row.needs,
            language=row.language,
            format=row.format,
            gp=row.gp,
            caller_note=row.caller_note,
            contact_stopped=contact_stopped(way.person, desk.today),
            warnings=_warnings(desk, session, number, way),
            cautions=tuple(c.words for c in cautions(case, desk.today)),
            contact_points=way.ways,
            adults=_adults(session, number, desk.today),
            risks=_risks(session, number),
            history=history_lines(case, _last(case)),
            visits=_visits(session, number, case),
            clinical=True,
            follow_ups=open_follow_ups(desk, session, number),
            referrals=open_referrals(desk, session, number),
            loose=loose_appointments(session, number, desk.today),
            judged=_judged(desk, session, number, case),
            tried=_tried(session, number),
            notes=_notes(session, number),
            **_beside(desk, session, row),
        )


def _without_findings(card: PersonCard) -> PersonCard:
    """Return a card with what may be said aloud alone: for a desk at which others stand."""
    visits = tuple(replace(each, right=(), left=(), note="") for each in card.visits)
    asked = tuple(replace(each, says=each.says_aloud or (UNSAID,)) for each in card.follow_ups)
    return replace(
        card,
        clinical=False,
        cautions=(),
        history=(),
        judged=(),
        visits=visits,
        follow_ups=asked,
    )


def _beside(desk: Desk, session: Session, row: tables.Person) -> dict[str, Any]:
    """Return what is seen to, today's calls, and the parts of a name as they are put right."""
    spoken = spoken_about(desk, session, row.id)
    return {
        "matters": about_person(desk, session, row.id),
        "rung": tuple(each.words for each in rung_today(desk, session, row.id)),
        "spoken": spoken.words if spoken else "",
        "title": row.title,
        "given_names": row.given_names,
        "family_name": row.family_name,
        "nhs_number": row.nhs_number or row.nhs_number_raw or "",
        "site": row.site if len(desk.config.sites) > 1 else "",
    }


def _judged(desk: Desk, session: Session, person_id: int, case: Case) -> tuple[JudgedLine, ...]:
    decisions = decided_by_people(session, [person_id]).get(person_id, ())
    if not any(each.action in ("strike", "weigh") for each in decisions):
        return ()
    state = folding(
        case, desk.protocol, desk.today, decisions=decisions, population=desk.populations
    )
    held = (each.decision for each in state.judged.held.values())
    return tuple(judged_lines(session, person_id, held))


def _warnings(desk: Desk, session: Session, number: int, way: Reachable) -> tuple[str, ...]:
    known = way.person
    ask = to_ask(known, desk.today, desk.protocol.contact)
    beside = stopped_beside(session, {number: way}, desk.today).get(number, ())
    return tuple(filter(None, (*beside, *contact_warnings(known, desk.today), ask)))


def _last(case: Case) -> Visit | None:
    return case.visits[-1] if case.visits else None


def _visits(session: Session, number: int, case: Case) -> tuple[VisitFindings, ...]:
    """Return somebody's visits with their notes, newest first."""
    c = tables.Visit
    noted = select(c.note).where(c.person_id == number, stands(c)).order_by(c.on, c.id)
    notes = session.scalars(noted).all()
    pairs = zip(case.visits, notes, strict=True)
    return tuple(_visit_findings(visit, note) for visit, note in reversed(list(pairs)))


def _visit_findings(visit: Visit, note: str) -> VisitFindings:
    examiner = visit.examiner or "not recorded"
    return VisitFindings(visit.on, examiner, ear_lines(visit.right), ear_lines(visit.left), note)


def _adults(session: Session, person_id: int, on: date) -> tuple[AdultLine, ...]:
    c = tables.AdultFor
    wanted = (
        select(read_as(AdultLine, tables.AdultFor))
        .where(c.person_id == person_id, stands(tables.AdultFor))
        .where(c.until.is_(None) | (c.until > on))
    )
    return tuple(session.scalars(wanted.order_by(c.id)))


def _risks(session: Session, person_id: int) -> tuple[RiskLine, ...]:
    c = tables.PersonRisk
    wanted = select(read_as(RiskLine, tables.PersonRisk)).where(
        c.person_id == person_id, stands(tables.PersonRisk)
    )
    return tuple(session.scalars(wanted.order_by(c.id)))


_Order = tuple[int, datetime, int]
"""The history's number, the instant where an old row has none, the row's number."""


def _tried(session: Session, person_id: int) -> tuple[Tried, ...]:
    """Return contacts, letters, and what else was done, the newest first."""
    found = [*_contacts(session, person_id), *_letters(session, person_id)]
    found += _done(session, person_id)
    newest = sorted(found, key=lambda one: one[:2], reverse=True)
    return tuple(Tried(on, words) for on, _order, words in newest)


def _contacts(session: Session, person_id: int) -> Iterator[tuple[date, _Order, str]]:
    c = tables.Contact
    told = c.on, c.channel, c.outcome, c.by_them, c.note, c.ref
    calls = select(*told, c.recorded_no, c.recorded_at, c.id).where(
        c.person_id == person_id, stands(tables.Contact)
    )
    for on, channel, outcome, by_them, note, ref, no, at, number in session.execute(calls):
        words = f"{channel}, {outcome}".replace("_", " ") + (", by them" if by_them else "")
        words += entered_late(on, at) if ref is None else ""
        yield on, (no, at, number), f"{words}: {note}" if note else words


def entered_late(on: date, at: datetime) -> str:
    """Return what is said of something that was entered on a later day than it happened."""
    return f", entered late on {say_day(at.date())}" if at.date() > on else ""


def _letters(session: Session, person_id: int) -> Iterator[tuple[date, _Order, str]]:
    p = tables.Letter
    told = p.on, p.kind, p.posted_on, p.returned_on, p.held_why
    letters = select(*told, p.recorded_no, p.recorded_at, p.id).where(
        p.person_id == person_id, stands(tables.Letter)
    )
    for on, kind, posted_on, returned_on, held_why, no, at, number in session.execute(letters):
        how = "returned" if returned_on else "posted" if posted_on else "not posted yet"
        how = f"held: {held_why}" if held_why else how
        yield posted_on or on, (no, at, number), f"letter, {kind.replace('_', ' ')}: {how}"


def _done(session: Session, person_id: int) -> Iterator[tuple[date, _Order, str]]:
    """Give what was done; a row that came with a file's contact is told with that contact."""
    e, c = tables.FollowUpEvent, tables.Contact
    with_contact = select(c.id).where(
        *(c.person_id == person_id, c.outcome == e.what),
        *(c.recorded_at == e.recorded_at, stands(tables.Contact)),
    )
    mine = select(tables.FollowUp.id).where(tables.FollowUp.person_id == person_id)
    told = select(e.on, e.recorded_no, e.recorded_at, e.what, e.until, e.why)
    told = told.distinct()  # once for the person
    wanted = told.where(
        e.follow_up_id.in_(mine),
        e.what.in_(_DONE),
        stands(tables.FollowUpEvent),
        ~with_contact.exists(),
    )
    for on, no, at, what, until, why in session.execute(wanted):
        words = _DONE[what] + (f" until {say_day(until)}" if until else "") + entered_late(on, at)
        yield on, (no, at, 0), f"{words}: {why}" if why else words


def _notes(session: Session, person_id: int) -> tuple[Tried, ...]:
    h = tables.History
    wanted = (
        select(h.at, tables.HistoryPayload.content)
        .join_from(tables.History, tables.HistoryPayload, tables.HistoryPayload.history_id == h.id)
        .where(h.person_id == person_id, h.what == "noted")
        .order_by(h.id.desc())
    )
    rows = session.execute(wanted).all()
    return tuple(Tried(at.date(), said(content)["now"]) for at, content in rows if content)
