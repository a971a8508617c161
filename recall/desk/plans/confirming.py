"""Confirming plans: a named clinician sees counts and samples, then says yes.

A visit waits that came from a file, or was closed by somebody who may not decide. Until then
no letter is written about it. What it asks for stands all the same, so that nobody waits unseen.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import distinct, func, select, update
from sqlalchemy.orm import Session

from recall.care.case import URGENCIES
from recall.care.services import SERVICES
from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.person_lookup import person_ids
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.visits.questions import words_of_alarm
from recall.errors import Conflict, NotFound, Refused
from recall.records import tables
from recall.records.facts.candidates import of_sites, waits
from recall.records.facts.cases import pages, stands
from recall.records.facts.confirmed import still_waits
from recall.records.journal import history
from recall.records.journal.history import Change
from recall.records.tables.statements import read_as, table_of

SAMPLES = 3
_Seen = tuple[int, date, str]
"""A visit's number, its day, and its note."""


@dataclass(frozen=True)
class AskLine:
    """One ask or referral of a plan, as a clinician reads it."""

    urgency: str
    category: str
    ear: str
    says: str
    earliest: date
    latest: date
    rule: str
    known_by: str


@dataclass(frozen=True)
class PlanLine:
    """One person's plan that waits to be confirmed."""

    urgency: str
    reference: str
    name: str
    born: date
    visits: int
    last_visit_on: date
    asks: tuple[AskLine, ...]
    person_id: int
    visit_ids: tuple[int, ...]
    alarm: str = ""
    """What the notes of these visits speak of that must not wait; empty where of nothing."""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Person:
    """Somebody whose plan waits."""

    id: int
    ref: str
    given_names: str
    family_name: str
    born: date


@dataclass(frozen=True)
class Group:
    """How many asks of one category and urgency wait, how many of them late, with samples."""

    category: str
    urgency: str
    asks: int
    late: int
    samples: tuple[str, ...]
    """References of people."""


@dataclass(frozen=True)
class Waiting:
    """What waits to be confirmed."""

    visits: int
    people: int
    alarms: tuple[str, ...]
    """References of people in whose notes words of alarm stand."""
    to_plan: int
    """People whose plan is not worked out yet."""
    groups: tuple[Group, ...]


@needs(Right.LOOK)
def waiting(desk: Desk) -> Waiting:
    """Return what waits: counts by category and urgency, with samples of the most pressing."""
    with desk.store.read() as session:
        only_shown(desk, session)
        visits, people = session.execute(
            select(func.count(), func.count(distinct(tables.Visit.person_id))).where(
                *waits(tables.Visit), *of_sites(session, tables.Visit.person_id)
            )
        ).one()
        to_plan = session.scalar(select(func.count()).select_from(tables.ToPlan)) or 0
        asks = _asks(session)
        alarms = tuple(sorted(_alarming(session)))
    found: dict[tuple[str, str], list[tuple[date, str]]] = defaultdict(list)
    for ask, ref in asks:
        found[ask.category, ask.urgency].append((ask.latest, ref))
    groups = [
        Group(
            category=category,
            urgency=urgency,
            asks=len(members),
            late=sum(latest < desk.today for latest, _ in members),
            samples=tuple(dict.fromkeys(ref for _, ref in sorted(members)))[:SAMPLES],
        )
        for (category, urgency), members in found.items()
    ]
    groups.sort(key=lambda g: (URGENCIES.index(g.urgency), g.category))
    return Waiting(visits, people, alarms, to_plan, tuple(groups))


@needs(Right.LOOK)
def plans(
    desk: Desk, limit: int | None = None, refs: Sequence[str] | None = None
) -> tuple[PlanLine, ...]:
    """Return the plans that wait, of some people where they are named.

    First come those in whose notes words of alarm stand, then the most pressing.
    """
    c = tables.Visit
    wanted = (
        select(c.person_id, c.id, c.on, c.note).where(*waits(tables.Visit)).order_by(c.on, c.id)
    )
    with desk.store.read() as session:
        if refs is not None:
            wanted = wanted.where(c.person_id.in_(person_ids(session, refs)))
        else:
            only_shown(desk, session)
            wanted = wanted.where(*of_sites(session, c.person_id))
        visits: dict[int, list[_Seen]] = defaultdict(list)
        for person_id, number, on, note in session.execute(wanted):
            visits[person_id].append((number, on, note))
        asks: dict[str, list[AskLine]] = defaultdict(list)
        for ask, ref in _asks(session):
            asks[ref].append(ask)
        people = _people(session, list(visits))
    found = [_plan_line(people[n], visits[n], asks[people[n].ref]) for n in visits]
    found.sort(key=lambda p: (not p.alarm, _rank(p.asks), _first_latest(p.asks)))
    return tuple(found if limit is None else found[:limit])


@needs(Right.DECIDE)
def confirm(desk: Desk, visit_ids: Sequence[int]) -> int:
    """Confirm the plans of some visits; return how many were not confirmed before.

    Raises:
        Refused: whoever acts may not decide.
        NotFound: no such visit.
    """
    with desk.store.write() as session:
        c = tables.Visit
        known = session.scalars(select(c.id).where(c.id.in_(visit_ids), stands(tables.Visit))).all()
        if missing := set(visit_ids) - set(known):
            raise NotFound(f"There is no visit {min(missing)}.", hint="List them again.")
        return _set(desk, session, [*_which(session, visit_ids)])


@needs(Right.DECIDE)
def confirm_people(desk: Desk, refs: Sequence[str]) -> int:
    """Confirm the plans of some people by their references; return how many visits that is.

    Raises:
        Refused: whoever acts may not decide.
        NotFound: no such person.
    """
    with desk.store.write() as session:
        c = tables.Visit
        mine = select(c.id).where(*waits(tables.Visit), c.person_id.in_(person_ids(session, refs)))
        return _set(desk, session, session.scalars(mine).all())


@needs(Right.DECIDE)
def confirm_all(desk: Desk, expected_count: int, alarms: int = 0) -> int:
    """Confirm every plan that waits and is shown, if it is still as many visits as were seen.

    `alarms` says of how many people it was seen that words of alarm stand in the notes.

    Raises:
        Refused: whoever acts may not decide, or plans are not worked out yet, or it was not said
            that notes hold words of alarm.
        Conflict: there are more or fewer by now.
    """
    with desk.store.write() as session:
        unplanned = session.scalar(select(func.count()).select_from(tables.ToPlan))
        if unplanned:
            raise Refused(
                f"The plans of {unplanned:,} people are not worked out yet.",
                hint="Run recall replan, look at the counts, then confirm.",
            )
        only_shown(desk, session)
        shown = of_sites(session, tables.Visit.person_id)
        ids = session.scalars(select(tables.Visit.id).where(*waits(tables.Visit), *shown)).all()
        if len(ids) != expected_count:
            raise Conflict(
                f"{len(ids):,} visits wait, not {expected_count:,}; nothing was confirmed.",
                hint="Look at recall confirm again, then repeat with the number it shows.",
            )
        if (found := len(_alarming(session))) != alarms:
            raise Refused(
                f"Words of alarm in the notes of {found:,} of these people: nothing was confirmed.",
                hint="Read those first, recall confirm --list; then confirm each by reference, "
                f"or all with --alarms {found}.",
            )
        return _set(desk, session, ids)


def _which(session: Session, visit_ids: Sequence[int]) -> Iterable[int]:
    for some in pages(visit_ids):
        c = tables.Visit
        yield from session.scalars(select(c.id).where(*waits(tables.Visit), c.id.in_(some)))


def _set(desk: Desk, session: Session, visit_ids: Sequence[int]) -> int:
    c = tables.Visit
    changes = []
    for some in pages(visit_ids):
        rows = session.execute(select(c.id, c.person_id).where(c.id.in_(some)).order_by(c.id))
        changes += [Change("confirmed", "visit", n, person_id=person) for n, person in rows]
        values = {"confirmed_at": desk.now, "confirmed_by_id": desk.by.id}
        session.execute(
            update(table_of(tables.Visit))
            .where(c.id.in_(some))
            .values(**values, version=c.version + 1)
        )
    history.append_all(session, desk.by.id, desk.now, changes)
    return len(changes)


def _asks(session: Session) -> list[tuple[AskLine, str]]:
    """Return what unconfirmed visits ask for and is open, with each person's reference."""
    d, r = tables.Due, tables.Referral
    dues = (
        select(read_as(AskLine, tables.Due), tables.Person.ref)
        .join_from(tables.Due, tables.Person, d.person_id == tables.Person.id)
        .where(d.is_open, stands(tables.Due), still_waits(d))
        .where(*of_sites(session, d.person_id))
        .order_by(d.id)
    )
    found = [(ask, ref) for ask, ref in session.execute(dues)]
    referrals = (
        select(r.urgency, r.to, r.ears, r.asked_on, r.seen_by, tables.Person.ref)
        .join_from(tables.Referral, tables.Person, r.person_id == tables.Person.id)
        .where(r.is_open, stands(tables.Referral), still_waits(r))
        .where(*of_sites(session, r.person_id))
        .order_by(r.id)
    )
    for urgency, to, ears, asked_on, seen_by, ref in session.execute(referrals):
        says = f"Refer to {SERVICES[to].short}."
        ear = " and ".join(ears)
        found.append((AskLine(urgency, "refer", ear, says, asked_on, seen_by, "", ""), ref))
    return found


def _people(session: Session, ids: Sequence[int]) -> dict[int, _Person]:
    found: dict[int, _Person] = {}
    for some in pages(ids):
        wanted = select(read_as(_Person, tables.Person)).where(tables.Person.id.in_(some))
        found |= {person.id: person for person in session.scalars(wanted)}
    return found


def _first_latest(asks: Sequence[AskLine]) -> date:
    return min((ask.latest for ask in asks), default=date.max)


def _alarming(session: Session) -> set[str]:
    """Return the references of those in whose waiting visits' notes words of alarm stand."""
    c, p = tables.Visit, tables.Person
    noted = select(p.ref, c.note).join(p, p.id == c.person_id).where(*waits(c), c.note != "")
    noted = noted.where(*of_sites(session, c.person_id))
    return {ref for ref, note in session.execute(noted) if words_of_alarm(note)}


def _plan_line(person: _Person, visits: Sequence[_Seen], asks: Sequence[AskLine]) -> PlanLine:
    rank = _rank(asks)
    notes = tuple(note for _number, _on, note in visits if note)
    return PlanLine(
        urgency=URGENCIES[rank] if rank < len(URGENCIES) else "",
        reference=person.ref,
        name=f"{person.given_names} {person.family_name}".strip(),
        born=person.born,
        visits=len(visits),
        last_visit_on=max(on for _number, on, _note in visits),
        asks=tuple(sorted(asks, key=lambda a: (URGENCIES.index(a.urgency), a.latest))),
        person_id=person.id,
        visit_ids=tuple(number for number, _on, _note in visits),
        alarm=words_of_alarm("\n".join(notes)),
        notes=notes,
    )


def _rank(asks: Sequence[AskLine]) -> int:
    ranks = [URGENCIES.index(a.urgency) for a in asks]
    return min(ranks, default=len(URGENCIES))
