"""Visits from a file become rows: the visit and each ear's findings, never edited afterwards.

A visit that the file has changed is a new row which cites the old one, and waits for a
clinician again. What the desk corrected and the file did not change stays as the desk has it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import msgspec
from sqlalchemy import exists, func, or_, select, update
from sqlalchemy.orm import Session

from recall.care.casefile import check_days
from recall.care.ear import Side
from recall.desk.imports.file_digests import (
    Batch,
    Digests,
    Fresh,
    Importer,
    Refused,
    file_digests,
    remember,
)
from recall.desk.imports.nearness import nearly
from recall.desk.imports.visit_changes import EarTexts, Said, changes_of, merge, said, visit_fields
from recall.errors import InputError
from recall.exchange.problem import Wrong
from recall.exchange.visits_in import VisitRow, read_visits
from recall.records import tables
from recall.records.database.bulk import insert_tuples, numbered_tuples
from recall.records.facts.cases import stands
from recall.records.journal import seals
from recall.records.tables.statements import IDS, REFS, given, many, table_of, whole

KIND = "visits"
_FINDINGS = ("visit_id", "ear", "content")
_VISIT = (
    *("person_id", "ref", "on", "examiner_id", "examiner"),
    *("category", "reported", "note", "corrects_id"),
)
CHANGED = "Changed in the practice's file."


def unknown_person(near: str) -> Wrong:
    """Return what is wrong where nobody has a reference; `near` is one that is nearly the same."""
    right = "import the person first, or correct it"
    return Wrong(
        "is not in the register", f"perhaps {near}; else {right}" if near else right, "person"
    )


_V, _P, _S = tables.Visit, tables.Person, tables.Staff
_LAST_VISITS = (
    select(_V.person_id, func.max(_V.on))
    .where(_V.person_id.in_(IDS), stands(_V))
    .group_by(_V.person_id)
)
_PEOPLE = select(_P.ref, _P.id, _P.born).where(_P.ref.in_(REFS), _P.void_at.is_(None))
_STAFF = select(_S.id, _S.handle, _S.name).where(~_S.is_job)
_VISITS = select(whole(_V)).where(_V.ref.in_(REFS), _V.ref.is_not(None), _V.void_at.is_(None))
_ENTERED = select(_V.person_id, _V.on).where(
    _V.person_id.in_(IDS), _V.source == "entered", stands(_V)
)
_WHOSE = select(_V.person_id).where(_V.ref.in_(REFS), stands(_V))
_SEEN = select(_P.id).where(
    _P.ref.in_(REFS),
    or_(
        exists().where(_V.person_id == _P.id, stands(_V)),
        exists().where(tables.Due.person_id == _P.id, tables.Due.is_open),
        exists().where(tables.Referral.person_id == _P.id, tables.Referral.is_open),
    ),
)
"""What a page asks of the register, each made once."""


@dataclass(frozen=True)
class _Known:
    """What the register knows that rows of visits need."""

    people: Mapping[str, tuple[int, date]]
    staff: Mapping[str, int]
    near: Mapping[str, str]
    """By a reference that nobody has, one that is nearly the same."""


_Row = tuple[Fresh[VisitRow], dict[str, Any] | None, tables.Visit | None]
"""A visit of the file, what is stored of it if not just that, and the one whose place it takes."""


def write(session: Session, batch: Batch, page: Sequence[Fresh[VisitRow]]) -> Refused[VisitRow]:
    """Write some visits; return those that only the register can know to be wrong."""
    known, keys = _known(session, page), [fresh.key for fresh in page]
    seen, held_visits = file_digests(session, KIND, keys), _held_visits(session, keys)
    entered = _entered(session, [number for number, _born in known.people.values()])
    texts, refused = EarTexts(), list[tuple[Fresh[VisitRow], Wrong]]()
    new, rows = Said(texts), list[_Row]()
    landed: list[tuple[Fresh[VisitRow], Digests | str]] = []
    for fresh in page:
        if (wrong := _wrong(fresh.row, known)) is not None:
            refused.append((fresh, wrong))
            continue
        old, was = held_visits.get(fresh.key), seen.get(fresh.key)
        if old is None and was is None:
            landed.append((fresh, new.of(fresh.row)))
            if entered and _is_typed_too(batch, fresh, known, entered):
                batch.unchanged += 1
            else:
                rows.append((fresh, None, None))
            continue
        now, lands = _said_again(session, batch, fresh, was.fields if was else {}, old)
        landed.append((fresh, now))
        if lands is None:
            batch.unchanged += 1
        else:
            rows.append((fresh, lands, old))
    batch.rewritten |= _rewritten(session, known, rows)
    _insert(session, batch, known, rows, texts)
    remember(session, batch, KIND, landed, seen)
    batch.done += len(page)
    return refused


def _said_again(
    session: Session,
    batch: Batch,
    fresh: Fresh[VisitRow],
    before: Digests,
    old: tables.Visit | None,
) -> tuple[Digests, dict[str, Any] | None]:
    """Return what the file says of a known visit, and it with that put in; None if it stays."""
    now = said(visit_fields(fresh.row), before, batch.columns)
    if old is None:
        batch.told.append(f"visit {fresh.key} was taken off at the desk, and stays off")
        return now, None
    changes = changes_of(before, now)
    return now, merge(session, batch, fresh, old, changes) if changes.names else None


def _known(session: Session, page: Sequence[Fresh[VisitRow]]) -> _Known:
    people = _people(session, page)
    unknown = {fresh.row.person for fresh in page} - people.keys()
    return _Known(people, _staff_names(session), nearly(session, unknown))


def _rewritten(
    session: Session,
    known: _Known,
    rows: Sequence[_Row],
) -> set[int]:
    """Return of whom a visit is said otherwise, or a new one put in behind a known one."""
    new = {known.people[f.row.person][0] for f, _fields, old in rows if old is None}
    latest: dict[int, date] = dict(many(session, _LAST_VISITS, new))
    found = {old.person_id for _fresh, _fields, old in rows if old is not None}
    found |= {known.people[f.row.person][0] for f, _fields, old in rows if old is not None}
    for fresh, _fields, old in rows:
        number = known.people[fresh.row.person][0]
        if old is None and number in latest and fresh.row.visit.on < latest[number]:
            found.add(number)
    return found


def _people(session: Session, page: Sequence[Fresh[VisitRow]]) -> dict[str, tuple[int, date]]:
    refs = {fresh.row.person for fresh in page}
    return {ref: (number, born) for ref, number, born in many(session, _PEOPLE, refs)}


def _staff_names(session: Session) -> dict[str, int]:
    """Return who examined, by handle and by name."""
    rows = many(session, _STAFF)
    named = {name.casefold(): number for number, _handle, name in rows}
    return named | {handle: number for number, handle, _name in rows}


def _held_visits(session: Session, refs: Sequence[str]) -> dict[str | None, tables.Visit]:
    return {row.ref: row for row in session.scalars(_VISITS, given(refs))}


def _entered(session: Session, people: Sequence[int]) -> set[tuple[int, date]]:
    """Return the days on which some people's visits were typed at the desk."""
    return {(person, on) for person, on in many(session, _ENTERED, people)}


def _is_typed_too(
    batch: Batch,
    fresh: Fresh[VisitRow],
    known: _Known,
    entered: Collection[tuple[int, date]],
) -> bool:
    """Return whether a new visit was typed at the desk too, and say so: it is not added."""
    number, on = known.people[fresh.row.person][0], fresh.row.visit.on
    if (number, on) not in entered:
        return False
    batch.told.append(
        f"visit {fresh.key} of {fresh.row.person} on {on} was typed at the desk too: that one "
        "stands, and what the file says more is to be put in there"
    )
    return True


def _wrong(row: VisitRow, known: _Known) -> Wrong | None:
    """Return what cannot be about this visit, now that the person is known."""
    person = known.people.get(row.person)
    if person is None:
        return unknown_person(known.near.get(row.person, ""))
    try:
        check_days(row.visit, person[1])  # each ear was checked as it was read
    except InputError as error:
        path, _, said = error.message.partition(": ")
        return Wrong(said.rstrip("."), error.hint.rstrip("."), path.replace(".", "_"))
    return None


def _insert(
    session: Session,
    batch: Batch,
    known: _Known,
    rows: Sequence[_Row],
    texts: EarTexts,
) -> None:
    """Insert visits with their findings; the ones they take the place of are voided first."""
    replaced = [old.id for _fresh, _fields, old in rows if old is not None]
    if replaced:
        void = {"void_at": batch.desk.now, "void_by_id": batch.desk.by.id, "void_why": CHANGED}
        session.execute(
            update(table_of(tables.Visit)).where(tables.Visit.id.in_(replaced)).values(**void)
        )
        for _fresh, _fields, gone in rows:
            if gone is not None:
                batch.tell("voided", "visit", gone.id, gone.person_id, CHANGED)
    if not rows:
        return
    all_have = {"source": "imported", "recorded_at": batch.desk.now, "by_id": batch.desk.by.id}
    values = [_row(each, known) for each in rows]
    ids = numbered_tuples(session, tables.Visit, _VISIT, values, all_have)
    ears = [_ears(fresh, fields, texts) for fresh, fields, _old in rows]
    findings = [(number, *ear) for number, seen in zip(ids, ears, strict=True) for ear in seen]
    insert_tuples(session, tables.Findings, _FINDINGS, findings)
    sealed = seals.of_new("visit", _VISIT, values, all_have, map(sorted, ears))
    for number, value, seal, (fresh, _fields, old) in zip(ids, values, sealed, rows, strict=True):
        what = "added" if old is None else "corrected"
        batch.note(what, "visit", number, value[0], seal=seal, ref=fresh.key)
        batch.to_plan.add(value[0])
        if old is not None:
            batch.to_plan.add(old.person_id)
    batch.changed += len(replaced)
    batch.added += len(rows) - len(replaced)


def _ears(
    fresh: Fresh[VisitRow], fields: Mapping[str, Any] | None, texts: EarTexts
) -> list[tuple[Side, str]]:
    """Return the ears of a visit of which anything was found, as JSON."""
    visit = fresh.row.visit
    right, left = (visit.right, visit.left) if fields is None else (fields["right"], fields["left"])
    found: list[tuple[Side, str]] = []
    if right is not None:
        found.append(("right", texts.of("right", right)))
    if left is not None:
        found.append(("left", texts.of("left", left)))
    return found


def _row(each: _Row, known: _Known) -> tuple[Any, ...]:
    """Return the columns of a visit, in the order of `_VISIT`."""
    fresh, fields, old = each
    row, visit = fresh.row, fresh.row.visit
    if fields is None:
        on, name, reported = visit.on, visit.examiner, visit.reported
        category, note, by = row.category, row.note, _examiner(known, name)
    else:
        on, name, reported = fields["on"], fields["examiner"], fields["reported"]
        category, note = fields["category"], fields["note"]
        by = fields["examiner_id"] if "examiner_id" in fields else _examiner(known, name)
    number, told = known.people[row.person][0], _json(reported) if reported else "[]"
    corrects = None if old is None else old.id
    return (number, fresh.key, on, by, None if by else name, category, told, note, corrects)


def _examiner(known: _Known, name: str | None) -> int | None:
    return known.staff.get(name.casefold()) if name else None


def _json(value: Any) -> str:
    if isinstance(value, msgspec.Raw):
        return bytes(value).decode()
    return msgspec.json.encode(value).decode()


def _about(session: Session, page: Sequence[Fresh[VisitRow]]) -> set[int]:
    """Return whoever of a page has been seen before, or is asked for."""
    keys, refs = [fresh.key for fresh in page], {fresh.row.person for fresh in page}
    held, seen = many(session, _WHOSE, keys), many(session, _SEEN, refs)
    return {number for (number,) in (*held, *seen)}


def _check(session: Session, page: Sequence[Fresh[VisitRow]]) -> Refused[VisitRow]:
    """Return the visits of a page that only the register can know to be wrong."""
    known = _known(session, page)
    return [(fresh, wrong) for fresh in page if (wrong := _wrong(fresh.row, known))]


def _days(session: Session, keys: Sequence[str]) -> dict[str, date]:
    c = tables.Visit
    wanted = select(c.ref, c.on).where(c.ref.in_(REFS), c.ref.is_not(None), stands(c))
    return {ref: on for ref, on in many(session, wanted, keys) if ref is not None}


IMPORTER = Importer(
    KIND,
    read_visits,
    lambda: lambda row: row.reference,
    write,
    about=_about,
    check=_check,
    known_days=_days,
)
