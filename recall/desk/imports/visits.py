"""Visits from a file become rows: the visit and each ear's findings, never edited afterwards.

A visit that the file has changed is a new row which cites the old one, and waits for a
clinician again. What the desk corrected and the file did not change stays as the desk has it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import msgspec
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from recall.care.casefile import check_visit
from recall.care.ear import SIDES
from recall.desk.imports.file_digests import (
    Batch,
    Digests,
    FileDigests,
    Fresh,
    Importer,
    Refused,
    changed_fields,
    field_digests,
    file_digests,
    pairs,
    remember,
)
from recall.errors import InputError
from recall.exchange.problem import Wrong
from recall.exchange.visits_in import VisitRow, read_visits
from recall.records import tables
from recall.records.database.bulk import insert_numbered, insert_rows
from recall.records.tables.statements import table_of, whole

KIND = "visits"
UNKNOWN_PERSON = Wrong("is not in the register", "import the person first, or correct it", "person")
CHANGED = "Changed in the practice's file."


@dataclass(frozen=True)
class _Known:
    """What the register knows that rows of visits need."""

    people: Mapping[str, tuple[int, date]]
    staff: Mapping[str, int]


def visit_fields(row: VisitRow) -> dict[str, Any]:
    """Return what a file says of a visit, field by field."""
    visit = row.visit
    return {
        "person": row.person,
        "on": visit.on,
        "examiner": visit.examiner,
        "reported": visit.reported,
        "right": visit.right,
        "left": visit.left,
        "category": row.category,
        "note": row.note,
    }


def write(session: Session, batch: Batch, page: Sequence[Fresh[VisitRow]]) -> Refused[VisitRow]:
    """Write some visits; return those that only the register can know to be wrong."""
    known = _Known(_people(session, page), _staff_names(session))
    seen = file_digests(session, KIND, [fresh.key for fresh in page])
    held_visits = _held_visits(session, [fresh.key for fresh in page])
    refused: list[tuple[Fresh[VisitRow], Wrong]] = []
    rows: list[tuple[Fresh[VisitRow], dict[str, Any], tables.Visit | None]] = []
    landed: list[tuple[Fresh[VisitRow], Digests]] = []
    for fresh in page:
        fields = visit_fields(fresh.row)
        digests = field_digests(fields)
        wrong = _wrong(fresh.row, known)
        old = held_visits.get(fresh.key)
        if wrong is None and old is not None:
            changed = _changed(seen.get(fresh.key), digests)
            if not changed:
                batch.unchanged += 1
                landed.append((fresh, digests))
                continue
            fields = _as_corrected(session, old, fields, changed)
        if wrong is not None:
            refused.append((fresh, wrong))
            continue
        rows.append((fresh, fields, old))
        landed.append((fresh, digests))
    _insert(session, batch, known, rows)
    remember(session, batch, KIND, landed, seen)
    batch.done += len(page)
    return refused


def _people(session: Session, page: Sequence[Fresh[VisitRow]]) -> dict[str, tuple[int, date]]:
    c = tables.Person
    refs = {fresh.row.person for fresh in page}
    wanted = select(c.ref, c.id, c.born).where(c.ref.in_(refs), c.void_at.is_(None))
    return {ref: (number, born) for ref, number, born in session.execute(wanted)}


def _staff_names(session: Session) -> dict[str, int]:
    """Return who examined, by handle and by name."""
    c = tables.Staff
    rows = session.execute(select(c.id, c.handle, c.name).where(~c.is_job)).all()
    named = {name.casefold(): number for number, _handle, name in rows}
    return named | {handle: number for number, handle, _name in rows}


def _held_visits(session: Session, refs: Sequence[str]) -> dict[str | None, tables.Visit]:
    c = tables.Visit
    wanted = select(whole(tables.Visit)).where(
        c.ref.in_(refs), c.ref.is_not(None), c.void_at.is_(None)
    )
    return {row.ref: row for row in session.scalars(wanted)}


def _wrong(row: VisitRow, known: _Known) -> Wrong | None:
    """Return what cannot be about this visit, now that the person is known."""
    person = known.people.get(row.person)
    if person is None:
        return UNKNOWN_PERSON
    try:
        check_visit(row.visit, person[1])
    except InputError as error:
        path, _, said = error.message.partition(": ")
        return Wrong(said.rstrip("."), error.hint.rstrip("."), path.replace(".", "_"))
    return None


def _changed(seen: FileDigests | None, digests: Digests) -> set[str]:
    """Return what the file changed; of a visit that no file brought, everything it says."""
    return changed_fields(seen.fields if seen else {}, digests)


def _as_corrected(
    session: Session, old: tables.Visit, fields: Mapping[str, Any], changed: set[str]
) -> dict[str, Any]:
    """Return the visit as it stands with what the file changed put in."""
    wanted = select(tables.Findings.ear, tables.Findings.content).where(
        tables.Findings.visit_id == old.id
    )
    ears = pairs(session, wanted)
    stands: dict[str, Any] = {
        "on": old.on,
        "examiner": old.examiner,
        "category": old.category,
        "note": old.note,
        "reported": msgspec.Raw(old.reported.encode()),
        **{side: msgspec.Raw(ears[side].encode()) if side in ears else None for side in SIDES},
    }
    kept = {name: value for name, value in stands.items() if name not in changed}
    if "examiner" not in changed and old.examiner_id is not None:
        kept["examiner_id"] = old.examiner_id
    return {**fields, **kept}


def _insert(
    session: Session,
    batch: Batch,
    known: _Known,
    rows: Sequence[tuple[Fresh[VisitRow], dict[str, Any], tables.Visit | None]],
) -> None:
    """Insert visits with their findings; the ones they take the place of are voided first."""
    replaced = [old.id for _fresh, _fields, old in rows if old is not None]
    if replaced:
        void = {"void_at": batch.desk.now, "void_by_id": batch.desk.by.id, "void_why": CHANGED}
        session.execute(
            update(table_of(tables.Visit)).where(tables.Visit.id.in_(replaced)).values(**void)
        )
    if not rows:
        return
    made = batch.made
    values = [_row(fresh, fields, old, known, made) for fresh, fields, old in rows]
    ids = insert_numbered(session, tables.Visit, values)
    findings = [
        {"visit_id": number, "ear": side, "content": _json(fields[side])}
        for number, (_fresh, fields, _old) in zip(ids, rows, strict=True)
        for side in SIDES
        if fields[side] is not None
    ]
    insert_rows(session, tables.Findings, findings)
    for number, value, (fresh, _fields, old) in zip(ids, values, rows, strict=True):
        what = "added" if old is None else "corrected"
        batch.note(what, "visit", number, value["person_id"], ref=fresh.key)
        batch.to_plan.add(value["person_id"])
        if old is not None:
            batch.to_plan.add(old.person_id)
            batch.changed += 1
        else:
            batch.added += 1


def _row(
    fresh: Fresh[VisitRow],
    fields: Mapping[str, Any],
    old: tables.Visit | None,
    known: _Known,
    made: Mapping[str, Any],
) -> dict[str, Any]:
    name = fields["examiner"]
    by_name = known.staff.get(name.casefold()) if name else None
    examiner_id = fields.get("examiner_id", by_name)
    return {
        **made,
        "person_id": known.people[fresh.row.person][0],
        "ref": fresh.key,
        "on": fields["on"],
        "examiner_id": examiner_id,
        "examiner": None if examiner_id else name,
        "source": "imported",
        "category": fields["category"],
        "reported": _json(fields["reported"]),
        "note": fields["note"],
        "corrects_id": None if old is None else old.id,
    }


def _json(value: Any) -> str:
    if isinstance(value, msgspec.Raw):
        return bytes(value).decode()
    return msgspec.json.encode(value).decode()


IMPORTER = Importer(KIND, read_visits, lambda: lambda row: row.reference, write)
