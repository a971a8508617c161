"""Why somebody in the register is asked back when they are."""

from __future__ import annotations

from recall.desk.core.guarding import needs
from recall.desk.core.looking import looks
from recall.desk.core.person_lookup import person_id
from recall.desk.core.replanning import decided_by_people
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.protocol.loading import Protocol
from recall.records.facts.cases import case_for
from recall.schedule.explain import Explanation, explain


@needs(Right.LOOK)
@looks
def explain_person(desk: Desk, reference: str, protocol: Protocol | None = None) -> Explanation:
    """Return one person's plan today with its reasons, by the practice's own reference.

    Raises:
        NotFound: nobody has that reference.
    """
    with desk.store.read() as session:
        found = person_id(session, reference)
        case = case_for(session, found)
        decisions = decided_by_people(session, [found]).get(found, ())
    return explain(
        case,
        (protocol or desk.protocol).used_like(desk.protocol),
        desk.today,
        calendar=desk.calendar,
        decisions=decisions,
        population=desk.populations,
    )
