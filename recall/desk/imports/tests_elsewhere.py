"""Tests done elsewhere, from a file: each becomes what others told of an ear, with where and when.

A row that the file has changed takes the place of what it told before; what was taken off at the
desk stays off.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import msgspec
from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from recall.care.ear import SIDES
from recall.desk.imports.file_digests import (
    Batch,
    Digests,
    FileDigests,
    Fresh,
    Importer,
    Loss,
    Refused,
    file_digests,
    pairs,
    remember,
)
from recall.desk.imports.nearness import nearly
from recall.desk.imports.visits import unknown_person
from recall.exchange.problem import Wrong
from recall.exchange.tests_in import ElsewhereRow, read_tests
from recall.records import tables
from recall.records.database.bulk import insert_numbered
from recall.records.facts.cases import stands
from recall.records.tables.statements import table_of

KIND = "tests"
CHANGED = "Changed in the practice's file."
BEFORE_BIRTH = Wrong("is before the birth", "the day of the test, or whose it was", "on")
_People = Mapping[str, tuple[int, date]]


def _key(row: ElsewhereRow) -> str:
    return row.reference or f"{row.person}|{row.on}"


def _people(session: Session, page: Sequence[Fresh[ElsewhereRow]]) -> _People:
    c = tables.Person
    refs = {fresh.row.person for fresh in page}
    wanted = select(c.ref, c.id, c.born).where(c.ref.in_(refs), stands(c))
    return {ref: (number, born) for ref, number, born in session.execute(wanted)}


def _wrong(
    session: Session, page: Sequence[Fresh[ElsewhereRow]], people: _People
) -> list[tuple[Fresh[ElsewhereRow], Wrong]]:
    """Return the rows that only the register can know to be wrong."""
    near = nearly(session, {fresh.row.person for fresh in page} - people.keys())
    found = []
    for fresh in page:
        person = people.get(fresh.row.person)
        if person is None:
            found.append((fresh, unknown_person(near.get(fresh.row.person, ""))))
        elif fresh.row.on < person[1]:
            found.append((fresh, BEFORE_BIRTH))
    return found


def write(
    session: Session, batch: Batch, page: Sequence[Fresh[ElsewhereRow]]
) -> Refused[ElsewhereRow]:
    """Write some tests; return those that only the register can know to be wrong."""
    people = _people(session, page)
    back = _wrong(session, page, people)
    wrong = {id(fresh) for fresh, _wrong in back}
    good = [fresh for fresh in page if id(fresh) not in wrong]
    before = file_digests(session, KIND, [fresh.key for fresh in good])
    standing = _standing(session, before)
    landed: list[tuple[Fresh[ElsewhereRow], Digests]] = []
    new: list[Fresh[ElsewhereRow]] = []
    for fresh in good:
        was = _rows_of(before[fresh.key]) if fresh.key in before else ()
        if was and not standing.keys() & set(was):
            batch.told.append(f"test {fresh.key} was taken off at the desk, and stays off")
            batch.unchanged += 1
            landed.append((fresh, before[fresh.key].fields))
            continue
        _take_off(session, batch, fresh, {n: standing[n] for n in was if n in standing}, people)
        new.append(fresh)
        batch.changed += bool(was)
        batch.added += not was
    batch.rewritten |= _behind(session, people, new)
    landed += _insert(session, batch, people, new)
    remember(session, batch, KIND, landed, before)
    batch.done += len(page)
    return back


def _rows_of(seen: FileDigests) -> tuple[int, ...]:
    """Return which rows of the register a row of the file became."""
    return tuple(int(seen.fields[side]) for side in SIDES if side in seen.fields)


def _standing(session: Session, before: Mapping[str, FileDigests]) -> dict[int, str]:
    t, ids = tables.ToldByOthers, [n for seen in before.values() for n in _rows_of(seen)]
    return pairs(session, select(t.id, t.content).where(t.id.in_(ids), stands(t)))


def _take_off(
    session: Session,
    batch: Batch,
    fresh: Fresh[ElsewhereRow],
    was: Mapping[int, str],
    people: _People,
) -> None:
    """Void what a row told before; what it says no more, or otherwise, is taken away."""
    if not was:
        return
    now = {_json(told) for told in fresh.row.told}
    for content in was.values():
        if content not in now:
            told = msgspec.json.decode(content)
            which = f"{told['ear']} ear, {told['on']}, {told['source']}"
            batch.lost.append(Loss(fresh.row.person, "test elsewhere said otherwise", which))
    table = table_of(tables.ToldByOthers)
    void = {"void_at": batch.desk.now, "void_by_id": batch.desk.by.id, "void_why": CHANGED}
    session.execute(update(table).where(table.c.id.in_(was)).values(**void))
    number = people[fresh.row.person][0]
    batch.rewritten.add(number)
    for each in was:
        batch.note("voided", "told_by_others", each, number)


def _behind(session: Session, people: _People, rows: Sequence[Fresh[ElsewhereRow]]) -> set[int]:
    """Return of whom a test is put in behind a visit: what closes by it is taken away."""
    v = tables.Visit
    ids = {people[fresh.row.person][0] for fresh in rows}
    last = select(v.person_id, func.max(v.on)).where(v.person_id.in_(ids), stands(v))
    latest: dict[int, date] = pairs(session, last.group_by(v.person_id))
    days = ((people[fresh.row.person][0], fresh.row.on) for fresh in rows)
    return {number for number, on in days if number in latest and on <= latest[number]}


def _insert(
    session: Session, batch: Batch, people: _People, rows: Sequence[Fresh[ElsewhereRow]]
) -> list[tuple[Fresh[ElsewhereRow], Digests]]:
    """Insert what some rows tell, ear by ear; return them with what they became."""
    values = [
        {**batch.made, "person_id": people[fresh.row.person][0], "content": _json(told)}
        for fresh in rows
        for told in fresh.row.told
    ]
    numbers = iter(insert_numbered(session, tables.ToldByOthers, values))
    landed = []
    for fresh in rows:
        person_id = people[fresh.row.person][0]
        fields = {"row": fresh.digest}
        for side in fresh.row.ears:
            number = next(numbers)
            fields[side] = str(number)
            batch.note("added", "told_by_others", number, person_id, ref=fresh.key)
        batch.to_plan.add(person_id)
        landed.append((fresh, fields))
    return landed


def _json(value: Any) -> str:
    return msgspec.json.encode(value).decode()


def _about(session: Session, page: Sequence[Fresh[ElsewhereRow]]) -> set[int]:
    return {number for number, _born in _people(session, page).values()}


def _check(session: Session, page: Sequence[Fresh[ElsewhereRow]]) -> Refused[ElsewhereRow]:
    return _wrong(session, page, _people(session, page))


def _days(session: Session, keys: Sequence[str]) -> Mapping[str, date]:
    """Say that these rows' days are part of what they are known by."""
    return {}


TESTS = Importer(
    KIND, read_tests, lambda: _key, write, about=_about, check=_check, known_days=_days
)
