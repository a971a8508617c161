"""What a file makes milder of what pressed waits for a second person, as a correction does."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.acting import Act
from recall.desk.core.session import Desk
from recall.desk.imports.asks import Asks
from recall.desk.visits.milder import keep_milder
from recall.records import tables
from recall.records.journal import history
from recall.schedule.milder import Pressing, less_pressing, more_pressing


def keep_milder_of_file(
    desk: Desk, session: Session, run: int, rewritten: Collection[int], states: tuple[Asks, Asks]
) -> None:
    """Put what a file drops or lowers of whom it rewrites on the clinician's list.

    Args:
        desk: who takes the file in.
        session: the transaction that lands it.
        run: the number of the run.
        rewritten: people of whom something known is said otherwise.
        states: what was open of them before and after.
    """
    before, after = (_by_person(asks) for asks in states)
    name = session.scalars(
        select(tables.ImportRun.file_name).where(tables.ImportRun.id == run)
    ).one()
    why = f"By the file {Path(name).name}, run {run}."
    for person_id in sorted(before.keys() & set(rewritten)):
        lost = less_pressing(before[person_id], after[person_id])
        visit = _last_visit(session, person_id) if lost else None
        if visit is not None:
            act = Act(desk, session, person_id)
            keep_milder(act, visit, lost, why)
            history.append_all(session, desk.by.id, act.at, act.changes)


def _by_person(asks: Asks) -> dict[int, Pressing]:
    found: dict[int, Pressing] = defaultdict(dict)
    for due in asks.dues:
        more_pressing(found[due.person_id], (due.ear, due.track), due.urgency)
    for referral in asks.referrals:
        for ear in referral.ears:
            more_pressing(found[referral.person_id], (ear, referral.to), referral.urgency)
    return found


def _last_visit(session: Session, person_id: int) -> int | None:
    v = tables.Visit
    wanted = select(v.id).where(v.person_id == person_id)  # also one that the file took away
    return session.scalars(wanted.order_by(v.on.desc(), v.id.desc()).limit(1)).one_or_none()
