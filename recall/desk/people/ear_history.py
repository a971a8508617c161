"""What is known of one person's ears: for the visit form beside which it is shown, and the course.

`planned` then needs no register: the plan is worked out again on every key.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import msgspec
from sqlalchemy import select

from recall.care.case import Case, Visit
from recall.desk.core.guarding import needs
from recall.desk.core.looking import looks
from recall.desk.core.person_header import person_headers
from recall.desk.core.person_lookup import person_row
from recall.desk.core.replanning import decided_by_people
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.visits.cautions import Caution, cautions
from recall.records import tables
from recall.records.facts.cases import case_for, stands
from recall.schedule.fold import fold
from recall.schedule.plan import Decision, Ledger, Plan
from recall.schedule.planning import plan


@dataclass(frozen=True)
class EarHistory:
    """One person, and everything about their ears that a plan is made from."""

    person_id: int
    ref: str
    name: str
    born: date
    postcode: str
    case: Case
    decisions: tuple[Decision, ...]
    cautions: tuple[Caution, ...]
    warnings: tuple[str, ...]
    visit_ids: tuple[tuple[date, int], ...]
    """The standing visits by day, oldest first."""


@needs(Right.LOOK)
@looks
def ear_history(desk: Desk, ref: str) -> EarHistory:
    """Return what is known of one person's ears.

    Raises:
        NotFound: no such reference.
    """
    with desk.store.read() as session:
        row = person_row(session, ref)
        number = row.id
        case = case_for(session, number)
        decisions = decided_by_people(session, [number]).get(number, ())
        who = person_headers(session, [number], desk.today, desk.protocol.contact)[number]
        visits = select(tables.Visit.on, tables.Visit.id).where(
            tables.Visit.person_id == number, stands(tables.Visit)
        )
        found = session.execute(visits.order_by(tables.Visit.on, tables.Visit.id)).all()
    return EarHistory(
        person_id=number,
        ref=row.ref,
        name=who.name,
        born=row.born,
        postcode=who.postcode,
        case=case,
        decisions=decisions,
        cautions=cautions(case, desk.today),
        warnings=who.warnings,
        visit_ids=tuple((on, visit_id) for on, visit_id in found),
    )


@needs(Right.LOOK)
def planned(
    desk: Desk, known: EarHistory, visit: Visit | None, changes: Sequence[Decision] = ()
) -> Plan:
    """Return what would be open if a visit were closed as it stands; nothing is read or stored."""
    case, on, decisions = _told(desk, known, visit, changes)
    return plan(
        case,
        desk.protocol,
        on,
        calendar=desk.calendar,
        decisions=decisions,
        population=desk.populations,
    )


@needs(Right.LOOK)
def whole_story(
    desk: Desk, known: EarHistory, visit: Visit, changes: Sequence[Decision] = ()
) -> Ledger:
    """Return all that was ever asked and how it ended, as a visit would leave it."""
    case, on, decisions = _told(desk, known, visit, changes)
    return fold(case, desk.protocol, on, decisions=decisions, population=desk.populations)


def _told(
    desk: Desk, known: EarHistory, visit: Visit | None, changes: Sequence[Decision]
) -> tuple[Case, date, tuple[Decision, ...]]:
    """Return the case with a visit, the day on which it is judged, and what people decided."""
    visits = (*known.case.visits, visit) if visit is not None else known.case.visits
    last = max((v.on for v in visits), default=desk.today)
    decisions = tuple(sorted((*known.decisions, *changes), key=lambda d: d.on))
    case = msgspec.structs.replace(known.case, visits=tuple(visits))
    return case, max(desk.today, last), decisions


def without(known: EarHistory, visit_id: int | None) -> EarHistory:
    """Return the same without one visit: what was known when that visit is to be put right."""
    if visit_id is None:
        return known
    both = zip(known.visit_ids, known.case.visits, strict=True)
    kept = [(ids, visit) for ids, visit in both if ids[1] != visit_id]
    case = msgspec.structs.replace(known.case, visits=tuple(visit for _, visit in kept))
    return replace(known, case=case, visit_ids=tuple(ids for ids, _ in kept))
