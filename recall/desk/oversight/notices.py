"""What every list says first: what is not signed off, what is late, what waits."""

from __future__ import annotations

from sqlalchemy import func, select

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk, differs
from recall.desk.oversight import job_health
from recall.records import tables
from recall.records.facts.candidates import waits
from recall.records.facts.cases import stands
from recall.schedule.planning import NOT_SIGNED


@needs(Right.LOOK)
def announcements(desk: Desk) -> tuple[str, ...]:
    """Return what whoever looks at a list must know first."""
    with desk.store.read() as session:
        waiting = session.scalar(
            select(func.count()).select_from(tables.Visit).where(*waits(tables.Visit))
        )
        unseen = session.scalar(
            select(func.count())
            .select_from(tables.MilderLine)
            .where(tables.MilderLine.seen_at.is_(None), stands(tables.MilderLine))
        )
        unplanned = session.scalar(select(func.count()).select_from(tables.ToPlan))
    other_file = differs(desk.file_digest, desk.protocol.digest)
    found = [other_file] if other_file else []
    if not desk.protocol.signed_off:
        found.append(NOT_SIGNED)
    if unplanned:
        found.append(f"{unplanned:,} people wait to be planned: recall replan.")
    if waiting:
        found.append(f"{waiting:,} visits wait for a clinician: recall confirm.")
    if unseen:
        found.append(f"{unseen:,} corrected lines wait for a second clinician: recall line milder.")
    return (*found, *job_health.announcements(desk))
