"""Why somebody in the register is asked back when they are."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from recall.desk.core.replanning import decided_by_people
from recall.desk.core.session import Desk
from recall.errors import NotFound
from recall.protocol.loading import Protocol
from recall.records import tables
from recall.records.facts.cases import case_for
from recall.schedule.explain import Explanation, explain

_person: Any = tables.Person.__table__


def explain_person(desk: Desk, reference: str, protocol: Protocol | None = None) -> Explanation:
    """Return one person's plan today with its reasons, by the practice's own reference.

    Raises:
        NotFound: nobody has that reference.
    """
    with desk.store.read() as session:
        found = session.scalar(
            select(_person.c.id).where(_person.c.ref == reference, _person.c.void_at.is_(None))
        )
        if found is None:
            raise NotFound(
                "Nobody in the register has that reference.",
                hint="Find them with `recall find NAME`.",
            )
        case = case_for(session, found)
        decisions = decided_by_people(session, [found]).get(found, ())
    return explain(
        case,
        protocol or desk.protocol,
        desk.today,
        calendar=desk.calendar,
        decisions=decisions,
        population=desk.populations,
    )
