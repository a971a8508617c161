"""A person's history as the case file's `Case`, from the rows that stand.

Voided rows are left out. `known_at` gives what the desk could know at an instant: rows
recorded by then, and not yet voided.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import islice
from typing import Any

import msgspec
from sqlalchemy import ColumnElement, FromClause, and_, or_, select
from sqlalchemy.orm import Session

from recall.care.case import Case, Reported, ReportWord, Risk, ToldByOthers, UnderCare, Visit
from recall.care.ear import Ear
from recall.errors import NotFound
from recall.records import tables
from recall.schedule.plan import Decision

PAGE = 1000
Grouped = dict[int, list[Any]]

_ear = msgspec.json.Decoder(Ear).decode
_told = msgspec.json.Decoder(ToldByOthers).decode
_under_care = msgspec.json.Decoder(UnderCare).decode
_reported = msgspec.json.Decoder(tuple[ReportWord | Reported, ...]).decode

_person = tables.Person.__table__
_risk = tables.PersonRisk.__table__
_visit = tables.Visit.__table__
_findings = tables.Findings.__table__
_staff = tables.Staff.__table__
_decision = tables.Decision.__table__
_DECISION = [_decision.c[name] for name in Decision.__struct_fields__]


def pages(ids: Iterable[int], page: int = PAGE) -> Iterator[list[int]]:
    """Give numbers a page at a time: a statement takes only so many."""
    rest = iter(ids)
    while some := list(islice(rest, page)):
        yield some


def stands(table: FromClause, known_at: datetime | None = None) -> ColumnElement[bool]:
    """Return the condition that a fact row stands, or stood as far as was known at an instant."""
    if known_at is None:
        return table.c.void_at.is_(None)
    not_yet_void = or_(table.c.void_at.is_(None), table.c.void_at > known_at)
    return and_(table.c.recorded_at <= known_at, not_yet_void)


def case_for(session: Session, person_id: int, known_at: datetime | None = None) -> Case:
    """Return one person's history.

    Raises:
        NotFound: no such person.
    """
    found = cases_of(session, [person_id], known_at)
    if person_id not in found:
        raise NotFound(
            f"Person {person_id} is not in the register.", hint="Look the person up again."
        )
    return found[person_id]


def all_cases(session: Session, *, after: int = 0, page: int = PAGE) -> Iterator[tuple[int, Case]]:
    """Give everybody's history by the person's number, a page at a time, from after a number."""
    wanted = select(_person.c.id).where(_person.c.void_at.is_(None)).order_by(_person.c.id)
    while ids := session.scalars(wanted.where(_person.c.id > after).limit(page)).all():
        yield from cases_of(session, ids).items()
        after = ids[-1]


def cases_of(
    session: Session, ids: Sequence[int], known_at: datetime | None = None
) -> dict[int, Case]:
    """Return the histories of some people, by number."""
    found: dict[int, Case] = {}
    for some in pages(ids):
        found |= _cases(session, some, known_at)
    return found


def _cases(session: Session, ids: Sequence[int], known_at: datetime | None) -> dict[int, Case]:
    born = select(_person.c.id, _person.c.born).where(_person.c.id.in_(ids), stands(_person))
    risks = _risks(session, ids, known_at)
    visits = _visits(session, ids, known_at)
    care = _contents(session, tables.UnderCare.__table__, ids, known_at)
    told = _contents(session, tables.ToldByOthers.__table__, ids, known_at)
    treated = _last_treated(session, ids, known_at)
    return {
        row.id: Case(
            born=row.born,
            risks=tuple(risks.get(row.id, ())),
            visits=tuple(visits.get(row.id, ())),
            under_care=tuple(map(_under_care, care.get(row.id, ()))),
            told_by_others=tuple(map(_told, told.get(row.id, ()))),
            loss_treated_on=treated.get(row.id),
        )
        for row in session.execute(born.order_by(_person.c.id))
    }


def decisions_for(
    session: Session, person_id: int, known_at: datetime | None = None
) -> tuple[Decision, ...]:
    """Return what was decided about one person's dues and referrals, oldest first."""
    return decisions_of(session, [person_id], known_at).get(person_id, ())


def decisions_of(
    session: Session, ids: Sequence[int], known_at: datetime | None = None
) -> dict[int, tuple[Decision, ...]]:
    """Return what was decided about some people's dues and referrals, oldest first."""
    wanted = (
        select(_decision.c.person_id, *_DECISION)
        .where(stands(_decision, known_at))
        .order_by(_decision.c.on, _decision.c.id)
    )
    found: Grouped = defaultdict(list)
    for some in pages(ids):
        for person_id, *values in session.execute(wanted.where(_decision.c.person_id.in_(some))):
            found[person_id].append(Decision(**_given(Decision.__struct_fields__, values)))
    return {person_id: tuple(decisions) for person_id, decisions in found.items()}


def _given(names: Sequence[str], values: Sequence[Any]) -> dict[str, Any]:
    """Return the values that are recorded, by name; the others keep the type's own default."""
    return {n: v for n, v in zip(names, values, strict=True) if v is not None}


def _risks(session: Session, ids: Sequence[int], known_at: datetime | None) -> Grouped:
    c = _risk.c
    wanted = (
        select(c.person_id, c.what, c.ear, c.since, c.until)
        .where(c.person_id.in_(ids), stands(_risk, known_at))
        .order_by(c.id)
    )
    found: Grouped = defaultdict(list)
    for person_id, what, ear, since, until in session.execute(wanted):
        plain = ear is None and since is None and until is None
        risk = what if plain else Risk(what=what, ear=ear, since=since, until=until)
        found[person_id].append(risk)
    return found


def _visits(session: Session, ids: Sequence[int], known_at: datetime | None) -> Grouped:
    c = _visit.c
    wanted = (
        select(c.id, c.person_id, c.on, _staff.c.handle, c.examiner, c.reported)
        .join_from(_visit, _staff, c.examiner_id == _staff.c.id, isouter=True)
        .where(c.person_id.in_(ids), stands(_visit, known_at))
        .order_by(c.person_id, c.on, c.id)
    )
    ears = _ears(session, ids, known_at)
    found: Grouped = defaultdict(list)
    for visit_id, person_id, on, handle, examiner, reported in session.execute(wanted):
        found[person_id].append(
            Visit(
                on=on,
                examiner=handle or examiner,
                reported=() if reported == "[]" else _reported(reported),
                right=ears.get((visit_id, "right")),
                left=ears.get((visit_id, "left")),
            )
        )
    return found


def _ears(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> dict[tuple[int, str], Ear]:
    wanted = (
        select(_findings.c.visit_id, _findings.c.ear, _findings.c.content)
        .join_from(_findings, _visit, _findings.c.visit_id == _visit.c.id)
        .where(_visit.c.person_id.in_(ids), stands(_visit, known_at))
    )
    return {(v, ear): _ear(content) for v, ear, content in session.execute(wanted)}


def _contents(
    session: Session, table: FromClause, ids: Sequence[int], known_at: datetime | None
) -> Grouped:
    wanted = (
        select(table.c.person_id, table.c.content)
        .where(table.c.person_id.in_(ids), stands(table, known_at))
        .order_by(table.c.on, table.c.id)
    )
    found: Grouped = defaultdict(list)
    for person_id, content in session.execute(wanted):
        found[person_id].append(content)
    return found


def _last_treated(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> dict[int, str]:
    table = tables.LossTreated.__table__
    wanted = (
        select(table.c.person_id, table.c.treated_on)
        .where(table.c.person_id.in_(ids), stands(table, known_at))
        .order_by(table.c.on, table.c.id)
    )
    return dict(session.execute(wanted).all())
