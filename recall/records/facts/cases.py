"""A person's history as the case file's `Case`, from the rows that stand.

Voided rows are left out. `known_at` gives what the desk could know at an instant: rows
recorded by then, and not yet voided.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from functools import lru_cache
from itertools import islice
from typing import Any, TypeVar, cast

import msgspec
from sqlalchemy import ColumnElement, Select, and_, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session

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
from recall.records.database.store import ASIDE
from recall.records.tables.base import Fact
from recall.records.tables.statements import IDS, given, many, table_of
from recall.schedule.plan import Decision

PAGE = 3000

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


def readable(
    session: Session, person: InstrumentedAttribute[int] | InstrumentedAttribute[int | None]
) -> tuple[ColumnElement[bool], ...]:
    """Return the condition of a session that writes that a person was not set aside.

    A session that reads leaves them out by itself.
    """
    aside = session.info.get(ASIDE)
    return (person.not_in(aside),) if aside else ()


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


# Each statement is made once for what is known now: making one takes longer than asking it does.
_BORN = (
    select(tables.Person.id, tables.Person.born)
    .where(tables.Person.id.in_(IDS), stands(tables.Person))
    .order_by(tables.Person.id)
)


def _cases(session: Session, ids: Sequence[int], known_at: datetime | None) -> dict[int, Case]:
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
        for row in many(session, _BORN, ids)
    }


_DECIDED = (
    select(table_of(tables.Decision))
    .where(tables.Decision.person_id.in_(IDS), stands(tables.Decision))
    .order_by(tables.Decision.on, tables.Decision.id)
)


def decisions_of(session: Session, ids: Sequence[int]) -> dict[int, tuple[Decision, ...]]:
    """Return what was decided about some people's dues and referrals, oldest first."""
    found: dict[int, list[Decision]] = defaultdict(list)
    for some in pages(ids):
        # By the session, which writes down first what was only added to it.
        rows = session.execute(_DECIDED, given(some)).all()
        for row in cast(Sequence[tables.Decision], rows):
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
    found: dict[int, list[RiskWord | Risk]] = defaultdict(list)
    for person_id, what, ear, since, until in many(session, _at_risk(known_at), ids):
        plain = ear is None and since is None and until is None
        risk = what if plain else Risk(what=what, ear=ear, since=since, until=until)
        found[person_id].append(risk)
    return found


@lru_cache(maxsize=16)
def _at_risk(known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    c = tables.PersonRisk
    return (
        select(c.person_id, c.what, c.ear, c.since, c.until)
        .where(c.person_id.in_(IDS), stands(c, known_at))
        .order_by(c.id)
    )


def _visits(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> dict[int, list[Visit]]:
    ears = _ears(session, ids, known_at)
    found: dict[int, list[Visit]] = defaultdict(list)
    rows = many(session, _visited(known_at), ids)
    for visit_id, person_id, on, handle, examiner, reported in rows:
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


@lru_cache(maxsize=16)
def _visited(known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    c = tables.Visit
    return (
        select(c.id, c.person_id, c.on, tables.Staff.handle, c.examiner, c.reported)
        .join_from(c, tables.Staff, c.examiner_id == tables.Staff.id, isouter=True)
        .where(c.person_id.in_(IDS), stands(c, known_at))
        .order_by(c.person_id, c.on, c.id)
    )


def _ears(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> dict[tuple[int, str], Ear]:
    rows = many(session, _found(known_at), ids)
    return {(v, ear): _ear(content) for v, ear, content in rows}


@lru_cache(maxsize=16)
def _found(known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    f, v = tables.Findings, tables.Visit
    return (
        select(f.visit_id, f.ear, f.content)
        .join_from(f, v, f.visit_id == v.id)
        .where(v.person_id.in_(IDS), stands(v, known_at))
    )


def _contents(
    session: Session,
    table: type[tables.UnderCare | tables.ToldByOthers],
    ids: Sequence[int],
    known_at: datetime | None,
) -> dict[int, list[str]]:
    found: dict[int, list[str]] = defaultdict(list)
    for person_id, content in many(session, _content(table, known_at), ids):
        found[person_id].append(content)
    return found


@lru_cache(maxsize=32)
def _content(
    table: type[tables.UnderCare | tables.ToldByOthers], known_at: datetime | None
) -> Select[*tuple[Any, ...]]:
    return (
        select(table.person_id, table.content)
        .where(table.person_id.in_(IDS), stands(table, known_at))
        .order_by(table.on, table.id)
    )


def _last_treated(
    session: Session, ids: Sequence[int], known_at: datetime | None
) -> dict[int, str]:
    return dict(session.execute(_treated(known_at), given(ids)).all())


@lru_cache(maxsize=16)
def _treated(known_at: datetime | None) -> Select[int, str]:
    table = tables.LossTreated
    return (
        select(table.person_id, table.treated_on)
        .where(table.person_id.in_(IDS), stands(table, known_at))
        .order_by(table.on, table.id)
    )
