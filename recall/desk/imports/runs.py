"""Runs: one file taken in, by its number; a run that was stopped is marked until it is done."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

import msgspec
from sqlalchemy import insert, select, update
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.records import tables
from recall.records.database.bulk import insert_rows
from recall.records.facts.cases import stands
from recall.records.tables.statements import table_of

WITH_PLANS: dict[str, type[tables.Visit | tables.Contact | tables.Booking]] = {
    "visits": tables.Visit,
    "contacts": tables.Contact,
    "bookings": tables.Booking,
}
UNFINISHED = "unfinished"
"""In the counts of a run that has not landed whole."""


def new_run(desk: Desk, session: Session, path: Path, kind: str, counts: Mapping[str, Any]) -> int:
    """Write a run down and return its number."""
    values = {
        "kind": kind,
        "file_name": path.name,
        "file_digest": digest_of(path),
        "counts": msgspec.json.encode(counts).decode(),
        "on": desk.today,
        "recorded_at": desk.now,
        "by_id": desk.by.id,
    }
    making = insert(table_of(tables.ImportRun)).returning(tables.ImportRun.id)
    return session.scalars(making, values).one()


def digest_of(path: Path) -> str:
    """Return the digest of a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def unfinished(session: Session, kind: str) -> dict[int, str]:
    """Return the runs of a kind that have not landed whole, each with its file's digest."""
    c = tables.ImportRun
    wanted = select(c.id, c.file_digest, c.counts).where(c.kind == kind, stands(c))
    rows = session.execute(wanted.where(c.counts.contains(UNFINISHED)))
    return {n: digest for n, digest, counts in rows if msgspec.json.decode(counts)[UNFINISHED]}


def write_counts(session: Session, run: int, counts: Mapping[str, Any]) -> None:
    """Write down what became of a run."""
    table = table_of(tables.ImportRun)
    told = msgspec.json.encode(counts).decode()
    session.execute(update(table).where(table.c.id == run).values(counts=told))


def finish(
    session: Session, kind: str, run: int, counts: Mapping[str, Any], people: Collection[int]
) -> None:
    """Mark a run as done, and list `people`, whom it or stopped ones brought, to be planned."""
    listed = set(session.scalars(select(tables.ToPlan.person_id)))
    insert_rows(session, tables.ToPlan, [{"person_id": n} for n in people if n not in listed])
    for number in unfinished(session, kind).keys() - {run}:
        write_counts(session, number, {UNFINISHED: False, "done_by": run})
    write_counts(session, run, counts)


def brought(session: Session, kind: str, run: int) -> Collection[int]:
    """Return whose plan depends on what a run and stopped ones before it brought.

    Asked before the last write of a long file where it can be: other desks wait for that.
    """
    seen, table = tables.ImportSeen, WITH_PLANS.get(kind)
    if table is None:
        return ()
    runs = {run, *unfinished(session, kind)}
    mine = seen.kind == kind, seen.import_run_id.in_(runs), stands(table)
    wanted = select(table.person_id).join(seen, seen.ref == table.ref).where(*mine).distinct()
    return session.scalars(wanted.order_by(table.person_id)).all()
