"""The failsafe: goes over the whole register and trusts nothing that is stored about standing.

It works every person's plan out again and compares it with the rows, and looks at everything
that is open for what nobody is going to do. Everything it finds is stored, for the manager.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import and_, func, insert, select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe_open, failsafe_plan, failsafe_sums
from recall.desk.oversight.failsafe_kinds import UNREADABLE
from recall.records import tables
from recall.records.database.bulk import seldom_collected
from recall.records.facts.cases import stands
from recall.records.journal import history
from recall.records.tables.statements import read_as, table_of, whole

PAGE = 1000
Progress = Callable[[int, int], None]
Ending = Callable[[Session, int], None]


@dataclass(frozen=True)
class Finding:
    """Something that would let somebody fall out."""

    kind: str
    person_id: int | None
    entity: str
    entity_id: int
    since_on: date | None
    says: str


@dataclass(frozen=True)
class Report:
    """One pass over the register."""

    run_id: int
    on: date
    at: datetime
    people: int
    findings: tuple[Finding, ...]

    @property
    def counts(self) -> dict[str, int]:
        """Return how many there are of each kind."""
        kinds = [finding.kind for finding in self.findings]
        return {kind: kinds.count(kind) for kind in dict.fromkeys(kinds)}


@needs(Right.MAINTAIN, for_the_others=True)
def run(
    desk: Desk,
    progress: Progress | None = None,
    job_run_id: int | None = None,
    ending: Ending | None = None,
) -> Report:
    """Go over the whole register and store what is found; a row that cannot be read is a break.

    Args:
        desk: who acts, on which day.
        progress: told now and then how many people were gone over.
        job_run_id: the run of the job that asked for it.
        ending: what else is to be written in the transaction that stores it.
    """
    findings: list[Finding] = []
    people, after = 0, 0
    desk.store.look_through()
    with seldom_collected(), desk.store.read() as session:
        total = session.scalar(
            select(func.count()).select_from(tables.Person).where(stands(tables.Person))
        )
        while ids := page(session, after):
            told = [*failsafe_plan.check(desk, session, ids)]
            told += failsafe_open.check_people(desk, session, ids)
            findings += [Finding(*one) for one in told]
            people, after = people + len(ids), ids[-1]
            if progress is not None:
                progress(people, total or people)
        findings += [Finding(*one) for one in failsafe_open.check_register(desk, session)]
        findings += [Finding(*one) for one in failsafe_sums.check(desk, session)]
    findings += _unreadable(desk)
    return _store(desk, people, findings, job_run_id, ending)


@needs(Right.LOOK)
def last(desk: Desk, before: int | None = None) -> Report | None:
    """Return the last pass with what it found, or None where there was none.

    `before`: the last one before a run.
    """
    with desk.store.read() as session:
        ran, told = tables.FailsafeRun, tables.FailsafeFinding
        earlier = stands(ran) if before is None else and_(stands(ran), ran.id < before)
        wanted = select(whole(ran)).where(earlier).order_by(ran.id.desc()).limit(1)
        row = session.scalars(wanted).one_or_none()
        if row is None:
            return None
        found = select(read_as(Finding, told)).where(told.run_id == row.id).order_by(told.id)
        findings = tuple(session.scalars(found))
    return Report(row.id, row.on, row.recorded_at, row.people, findings)


def page(session: Session, after: int) -> list[int]:
    """Return the next people to go over, after the last of the page before."""
    wanted = select(tables.Person.id).where(tables.Person.id > after, stands(tables.Person))
    return list(session.scalars(wanted.order_by(tables.Person.id).limit(PAGE)))


def _unreadable(desk: Desk) -> list[Finding]:
    """Return whose record cannot be read: nothing of theirs was checked."""
    says = "{}: it cannot be read, and nothing of theirs was checked. See recall restore."
    return [
        Finding(UNREADABLE, person, row.table, row.number, None, says.format(row))
        for person, row in desk.store.aside.items()
    ]


def _store(
    desk: Desk,
    people: int,
    findings: list[Finding],
    job_run_id: int | None,
    ending: Ending | None,
) -> Report:
    made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id}
    counted = {"people": people, "found": len(findings), "job_run_id": job_run_id}
    with desk.store.write() as session:
        run_id: int = session.execute(
            insert(table_of(tables.FailsafeRun))
            .values(**made, **counted)
            .returning(tables.FailsafeRun.id)
        ).scalar_one()
        rows = [{"run_id": run_id, **vars(finding)} for finding in findings]
        if rows:
            session.execute(insert(table_of(tables.FailsafeFinding)), rows)
        told = {"people": people, "found": len(findings)}
        history.append(session, desk.by.id, desk.now, "ran", "failsafe_run", run_id, now=told)
        if ending is not None:
            ending(session, len(findings))
    return Report(run_id, desk.today, desk.now, people, tuple(findings))
