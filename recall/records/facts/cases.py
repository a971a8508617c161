"""A person's history as the case file's `Case`, from the rows that stand.

Voided rows are left out. `known_at` gives what the desk could know at an instant: rows
recorded by then, and not yet voided.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import islice
from typing import TypeVar

import msgspec
from sqlalchemy import ColumnElement, and_, or_, select
from sqlalchemy.orm import Session

from recall.care.case import (
    Case,
    Reported,
    ReportWord,
    Risk,
    RiskWord,
    ToldByOthers,
    UnderCare,
    Visit,
)
from recall.care.ear import Ear
from recall.errors import NotFound
from recall.records import tables
from recall.records.tables.base import Fact
from recall.records.tables.statements import many, whole
from recall.schedule.plan import Decision

PAGE = 1000

_ear = msgspec.json.Decoder(Ear).decode
_told = msgspec.json.Decoder(ToldByOthers).decode
_under_care = msgspec.json.Decoder(UnderCare).decode
_reported = msgspec.json.Decoder(tuple[ReportWord | Reported, ...]).decode

Key = TypeVar("Key")


def pages(ids: Iterable[Key], page: int = PAGE) -> Iterator[list[Key]]:
    """Give numbers, or other keys, a page at a time: a statement takes only so many."""
    rest = iter(ids)
    while some := list(islice(rest, page)):
        yield some


def stands(table: type[Fact], known_at: datetime | None = None) -> ColumnElement[bool]:
    """Return the condition that a fact row stands, or stood as far as was known at an instant."""
    if known_at is None:
        return table.void_at.is_(None)
    not_yet_void = or_(table.void_at.is_(None), table.void_at > known_at)
    return and_(table.recorded_at <= known_at, not_yet_void)


def case_for(session: Session, person_id: int) -> Case:
    """Return one person's history.

    Raises:
        NotFound: no such person.
    """
    found = cases_of(session, [person_id])
    if person_id not in found:
        raise NotFound(
            f"Person {person_id} is not in the register.", hint="Look the person up again."
        )
    return found[person_id]


def all_cases(session: Session, page: int = PAGE) -> Iterator[tuple[int, Case]]:
    """Give everybody's history by the person's number, a page at a time."""
    after = 0
    wanted = (
        select(tables.Person.id).where(tables.Person.void_at.is_(None)).order_by(tables.Person.id)
    )
    while ids := session.scalars(wanted.where(tables.Person.id > after).limit(page)).all():
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
    born = select(tables.Person.id, tables.Person.born).where(
        tables.Person.id.in_(ids), stands(tables.Person)
    )
    risks = _risks(session, ids, known_at)
    visits = _visits(session, ids, known_at)
    care = _contents(session, tables.UnderCare, ids, known_at)
    told = _contents(session, tables.ToldByOthers, ids, known_at)
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
        for row in many(session, born.order_by(tables.Person.id))
    }


def decisions_of(session: Session, ids: Sequence[int]) -> dict[int, tuple[Decision, ...]]:
    """Return what was decided about some people's dues and referrals, oldest first."""
    wanted = (
        select(whole(tables.Decision))
        .where(stands(tables.Decision))
        .order_by(tables.Decision.on, tables.Decision.id)
    )
    found: dict[int, list[Decision]] = defaultdict(list)
    for some in pages(ids):
        for row in session.scalars(wanted.where(tables.Decision.person_id.in_(some))):
            found[row.person_id].append(_decision(row))
    return {person_id: tuple(decisions) for person_id, decisions in found.items()}


def _decision(row: tables.Decision) -> Decision:
    return Decision(
        on=row.on,
        ear=row.ear,
        track=row.track,
        to=row.to,
        kind=row.kind,
        asked_on=row.asked_on,
        action=row.action,
        category=row.category,
        urgency=row.urgency,
        reason=row.reason,
        earliest=row.earliest,
        target=row.target,
        latest=row.latest,
        why=row.why,
        rule=row.rule,
        until=row.until,
        because=row.because,
    )


def _risks(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> dict[int, list[RiskWord | Risk]]:
    c = tables.PersonRisk
    wanted = (
        select(c.person_id, c.what, c.ear, c.since, c.until)
        .where(c.person_id.in_(ids), stands(tables.PersonRisk, known_at))
        .order_by(c.id)
    )
    found: dict[int, list[RiskWord | Risk]] = defaultdict(list)
    for person_id, what, ear, since, until in many(session, wanted):
        plain = ear is None and since is None and until is None
        risk = what if plain else Risk(what=what, ear=ear, since=since, until=until)
        found[person_id].append(risk)
    return found


def _visits(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> dict[int, list[Visit]]:
    c = tables.Visit
    wanted = (
        select(c.id, c.person_id, c.on, tables.Staff.handle, c.examiner, c.reported)
        .join_from(tables.Visit, tables.Staff, c.examiner_id == tables.Staff.id, isouter=True)
        .where(c.person_id.in_(ids), stands(tables.Visit, known_at))
        .order_by(c.person_id, c.on, c.id)
    )
    ears = _ears(session, ids, known_at)
    found: dict[int, list[Visit]] = defaultdict(list)
    for visit_id, person_id, on, handle, examiner, reported in many(session, wanted):
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
        select(tables.Findings.visit_id, tables.Findings.ear, tables.Findings.content)
        .join_from(tables.Findings, tables.Visit, tables.Findings.visit_id == tables.Visit.id)
        .where(tables.Visit.person_id.in_(ids), stands(tables.Visit, known_at))
    )
    return {(v, ear): _ear(content) for v, ear, content in many(session, wanted)}


def _contents(
    session: Session,
    table: type[tables.UnderCare | tables.ToldByOthers],
    ids: Sequence[int],
    known_at: datetime | None,
) -> dict[int, list[str]]:
    wanted = (
        select(table.person_id, table.content)
        .where(table.person_id.in_(ids), stands(table, known_at))
        .order_by(table.on, table.id)
    )
    found: dict[int, list[str]] = defaultdict(list)
    for person_id, content in many(session, wanted):
        found[person_id].append(content)
    return found


def _last_treated(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> dict[int, str]:
    table = tables.LossTreated
    wanted = (
        select(table.person_id, table.treated_on)
        .where(table.person_id.in_(ids), stands(table, known_at))
        .order_by(table.on, table.id)
    )
    return dict(session.execute(wanted).all())
