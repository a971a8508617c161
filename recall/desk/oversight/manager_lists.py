"""The manager's lists that need names beside what is stored, and their way out as CSV files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import select

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.oversight.job_health import jobs_health
from recall.desk.plans.earlier_dates import proposals
from recall.exchange.out import write_csv
from recall.records import tables
from recall.records.journal import history

_PAGE = 500
FOLDER = "lists"
"""Where exported lists lie, beside the database."""


@dataclass(frozen=True)
class ProposalLine:
    """A date that an adopted protocol would bring forward, with whose it is."""

    urgency: str
    reference: str
    name: str
    born: date
    ear: str
    track: str
    rule: str
    latest: date
    would_be: date
    number: int


@dataclass(frozen=True)
class JobLine:
    """Where one job stands."""

    job: str
    state: str
    says: str
    last_for: date | None
    finished_at: datetime | None
    counts: str
    error: str
    next_at: datetime


@needs(Right.LOOK)
def proposed(desk: Desk) -> tuple[ProposalLine, ...]:
    """Return the dates that wait to be brought forward or left, with names."""
    rows = proposals(desk)
    names = _names(desk, [row.reference for row in rows])
    return tuple(
        ProposalLine(
            row.urgency,
            row.reference,
            *names[row.reference],
            row.ear,
            row.track,
            row.rule,
            row.latest,
            row.would_be,
            row.number,
        )
        for row in rows
    )


def _names(desk: Desk, references: Sequence[str]) -> dict[str, tuple[str, date]]:
    c = tables.Person
    found: dict[str, tuple[str, date]] = {}
    with desk.store.read() as session:
        for n in range(0, len(references), _PAGE):
            some = references[n : n + _PAGE]
            wanted = select(c.ref, c.given_names, c.family_name, c.born).where(c.ref.in_(some))
            for ref, given, family, born in session.execute(wanted):
                found[ref] = f"{given} {family}".strip(), born
    return found


@needs(Right.LOOK)
def jobs(desk: Desk) -> tuple[JobLine, ...]:
    """Return where every job stands."""
    lines = []
    for found in jobs_health(desk):
        last = found.last
        lines.append(
            JobLine(
                job=found.job,
                state=found.state,
                says=found.says,
                last_for=last.for_day if last else None,
                finished_at=last.finished_at if last else None,
                counts=last.counts if last else "",
                error=last.error if last else "",
                next_at=found.next_at,
            )
        )
    return tuple(lines)


@needs(Right.MAINTAIN)
def export(desk: Desk, name: str, kind: type[Any], rows: Sequence[Any]) -> Path:
    """Write a list beside the database as a CSV file for its owner alone; return where it is.

    Raises:
        InputError: it cannot be written there.
    """
    folder = desk.config.files.database.parent / FOLDER
    path = folder / f"{name}-{desk.today}-{desk.now:%H%M%S}.csv"
    write_csv(path, kind, rows, named_here=True)
    with desk.store.write() as session:
        told = {"list": name, "rows": len(rows)}
        number = desk.today.toordinal()
        history.append(session, desk.by.id, desk.now, "exported", "list", number, now=told)
    return path
