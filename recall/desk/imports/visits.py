"""Visits from a file become rows: the visit and each ear's findings, never edited afterwards.

A visit that the file has changed is a new row which cites the old one, and waits for a
clinician again. What the desk corrected and the file did not change stays as the desk has it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

import msgspec
from sqlalchemy import exists, func, or_, select, update
from sqlalchemy.orm import Session

from recall.care.casefile import check_visit
from recall.care.ear import SIDES, Ear
from recall.desk.imports.file_digests import (
    Batch,
    Digests,
    Fresh,
    Importer,
    Loss,
    Refused,
    changed_fields,
    field_digests,
    file_digests,
    pairs,
    remember,
)
from recall.desk.imports.taking_away import ear_digests, merged, said_before
from recall.errors import InputError
from recall.exchange.problem import Problem, Wrong
from recall.exchange.visits_in import VisitRow, read_visits
from recall.records import tables
from recall.records.database.bulk import insert_numbered, insert_rows
from recall.records.facts.cases import stands
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
        fields: dict[str, Any] = visit_fields(fresh.row)
        fields |= {side: getattr(fresh.row.visit, side) for side in SIDES}
        before = seen[fresh.key].fields if fresh.key in seen else {}
        digests = _said(fresh.row, before, batch.columns)
        wrong = _wrong(fresh.row, known)
        old = held_visits.get(fresh.key)
        if wrong is None and old is not None:
            changes = _changes(before, digests)
            changed = _merge(session, batch, fresh, old, changes) if changes.names else None
            if changed is None:
                batch.unchanged += 1
                landed.append((fresh, digests))
                continue
            fields = changed
        if wrong is not None:
            refused.append((fresh, wrong))
            continue
        rows.append((fresh, fields, old))
        landed.append((fresh, digests))
    batch.rewritten |= _rewritten(session, known, rows)
    _insert(session, batch, known, rows)
    remember(session, batch, KIND, landed, seen)
    batch.done += len(page)
    return refused


def _rewritten(
    session: Session,
    known: _Known,
    rows: Sequence[tuple[Fresh[VisitRow], dict[str, Any], tables.Visit | None]],
) -> set[int]:
    """Return of whom a visit is said otherwise, or a new one put in behind a known one."""
    c = tables.Visit
    new = {known.people[f.row.person][0] for f, _fields, old in rows if old is None}
    last = select(c.person_id, func.max(c.on)).where(c.person_id.in_(new), stands(c))
    latest: dict[int, date] = pairs(session, last.group_by(c.person_id))
    found = {old.person_id for _fresh, _fields, old in rows if old is not None}
    found |= {known.people[f.row.person][0] for f, _fields, old in rows if old is not None}
    for fresh, _fields, old in rows:
        number = known.people[fresh.row.person][0]
        if old is None and number in latest and fresh.row.visit.on < latest[number]:
            found.add(number)
    return found


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


class _Changes(NamedTuple):
    """What a file changed of a visit, and what it had said of it."""

    names: set[str]
    before: Digests


def _said(row: VisitRow, before: Digests, columns: Collection[str]) -> Digests:
    """Return what the file says, finding by finding, and what it had said where it is silent."""
    ears = {side: getattr(row.visit, side) for side in SIDES}
    now = field_digests(visit_fields(row))
    for side, ear in ears.items():
        now |= ear_digests(side, ear)
    return now | said_before(before, now, columns)


def _changes(before: Digests, now: Digests) -> _Changes:
    """Return what the file changed; of a visit that no file brought, everything it says."""
    whole_ears = [side for side in SIDES if side in before]  # as earlier versions kept it
    before = {name: was for name, was in before.items() if name not in whole_ears}
    return _Changes(changed_fields(before, now), before)


def _merge(
    session: Session, batch: Batch, fresh: Fresh[VisitRow], old: tables.Visit, changes: _Changes
) -> dict[str, Any] | None:
    """Return the visit as it stands with what the file changed put in; None where it stays."""
    fields = visit_fields(fresh.row)
    wanted = select(tables.Findings.ear, tables.Findings.content).where(
        tables.Findings.visit_id == old.id
    )
    held = pairs(session, wanted)
    ears: dict[str, Ear | None] = {
        side: msgspec.json.decode(held[side], type=Ear) if side in held else None for side in SIDES
    }
    stands: dict[str, Any] = {
        "on": old.on,
        "examiner": old.examiner,
        "category": old.category,
        "note": old.note,
        "reported": msgspec.Raw(old.reported.encode()),
        **ears,
    }
    kept = {name: value for name, value in stands.items() if name not in changes.names}
    if "examiner" not in changes.names and old.examiner_id is not None:
        kept["examiner_id"] = old.examiner_id
    for side in SIDES:
        mine = {name for name in changes.names if name.startswith(f"{side}/")}
        came = merged(side, ears[side], getattr(fresh.row.visit, side), changes.before, mine)
        kept[side] = came.ear
        batch.lost += [Loss(fresh.key, "finding", f"{side} {name}") for name in came.gone]
        batch.kept += [_held_back(fresh, side, name) for name in came.held]
    batch.lost += _moved(fresh, old, changes.names)
    plain = {name for name in changes.names if "/" not in name}
    return {**fields, **kept} if plain or any(kept[s] != ears[s] for s in SIDES) else None


def _moved(fresh: Fresh[VisitRow], old: tables.Visit, changed: set[str]) -> list[Loss]:
    """Return what a visit loses where it moves to another day or person, or says less."""
    lost = []
    if "on" in changed and fresh.row.visit.on != old.on:
        lost.append(Loss(fresh.key, "day of a visit", f"{old.on}, now {fresh.row.visit.on}"))
    if "person" in changed:
        lost.append(Loss(fresh.key, "person of a visit", f"now {fresh.row.person}"))
    if "reported" in changed and old.reported != "[]":
        lost.append(Loss(fresh.key, "what was reported"))
    return lost


def _held_back(fresh: Fresh[VisitRow], side: str, name: str) -> Problem:
    return Problem(
        line=fresh.read.line,
        column=f"{side}_{name}",
        value="",
        wrong=f"changed for visit {fresh.key}, and the desk changed it since: the desk's stands",
        right="correct the visit at the desk if the file is right",
        kept=True,
    )


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


def _about(session: Session, page: Sequence[Fresh[VisitRow]]) -> set[int]:
    """Return whoever of a page has been seen before, or is asked for."""
    keys, refs = [fresh.key for fresh in page], {fresh.row.person for fresh in page}
    c, p = tables.Visit, tables.Person
    held = select(c.person_id).where(c.ref.in_(keys), stands(c))
    seen = select(p.id).where(
        p.ref.in_(refs),
        or_(
            exists().where(c.person_id == p.id, stands(c)),
            exists().where(tables.Due.person_id == p.id, tables.Due.is_open),
            exists().where(tables.Referral.person_id == p.id, tables.Referral.is_open),
        ),
    )
    return {*session.scalars(held), *session.scalars(seen)}


def _check(session: Session, page: Sequence[Fresh[VisitRow]]) -> Refused[VisitRow]:
    """Return the visits of a page that only the register can know to be wrong."""
    known = _Known(_people(session, page), {})
    return [(fresh, wrong) for fresh in page if (wrong := _wrong(fresh.row, known))]


def _days(session: Session, keys: Sequence[str]) -> dict[str, date]:
    c = tables.Visit
    wanted = select(c.ref, c.on).where(c.ref.in_(keys), c.ref.is_not(None), stands(c))
    return {ref: on for ref, on in session.execute(wanted) if ref is not None}


IMPORTER = Importer(
    KIND,
    read_visits,
    lambda: lambda row: row.reference,
    write,
    about=_about,
    check=_check,
    known_days=_days,
)
