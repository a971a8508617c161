"""The register's rows that belong to people: put in for new ones, brought up to date for others."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from recall.desk.imports.file_digests import Batch, Digests
from recall.desk.imports.people_items import ADULT, REACH, RISK, Item, Items, key_of
from recall.records import tables
from recall.records.database.bulk import insert_numbered, insert_rows
from recall.records.facts.cases import stands

_TABLES: dict[str, Any] = {
    ADULT: tables.AdultFor.__table__,
    REACH: tables.Reach.__table__,
    RISK: tables.PersonRisk.__table__,
}
WHY = "No longer in the practice's file."
Standing = dict[int, dict[str, tuple[str, int]]]
"""By person: an item's key to its table and row number."""


def insert_items(session: Session, batch: Batch, people: Sequence[tuple[int, Items]]) -> None:
    """Insert everything that belongs to some people of whom nothing is held."""
    _insert(session, batch, [(n, key, item) for n, items in people for key, item in items.items()])


def bring_up_to_date(
    session: Session, batch: Batch, people: Sequence[tuple[int, Items, Digests]]
) -> None:
    """Void what the file brought and no longer has; insert what it has newly."""
    standing = _standing(session, [number for number, _items, _before in people])
    gone: dict[str, list[int]] = defaultdict(list)
    new: list[tuple[int, str, Item]] = []
    for number, items, before in people:
        held = standing.get(number, {})
        for key in before.keys() - items.keys():
            if key in held:
                table, row = held[key]
                gone[table].append(row)
        new += [(number, key, item) for key, item in items.items() if key not in held]
    void = {"void_at": batch.desk.now, "void_by_id": batch.desk.by.id, "void_why": WHY}
    for name, rows in gone.items():
        table = _TABLES[name]
        session.execute(update(table).where(table.c.id.in_(rows)).values(**void))
    held_adults = {
        (number, key): row
        for number, held in standing.items()
        for key, (table, row) in held.items()
        if table == ADULT
    }
    _insert(session, batch, new, held_adults)


def _insert(
    session: Session,
    batch: Batch,
    rows: Sequence[tuple[int, str, Item]],
    adults: dict[tuple[int, str], int] | None = None,
) -> None:
    """Insert rows table by table; adults first, since their numbers are pointed to."""
    made = batch.made
    adult_ids = dict(adults or {})
    new_adults = [(number, key, item) for number, key, item in rows if item.table == ADULT]
    if new_adults:
        table = _TABLES[ADULT]
        values = [_adult_row(batch, number, item) for number, _key, item in new_adults]
        ids = insert_numbered(session, table, values)
        for row, (number, key, _item) in zip(ids, new_adults, strict=True):
            adult_ids[number, key] = row
    for name in (REACH, RISK):
        mine = [(n, item) for n, _key, item in rows if item.table == name]
        values = [
            {"person_id": n, **item.values, **_whose(name, n, item, adult_ids), **made}
            for n, item in mine
        ]
        insert_rows(session, _TABLES[name], values)


def _adult_row(batch: Batch, number: int, item: Item) -> dict[str, Any]:
    language = item.values["language"] or batch.desk.config.letters.languages[0]
    return {"person_id": number, **item.values, "language": language, **batch.made}


def _whose(
    table: str, number: int, item: Item, adults: dict[tuple[int, str], int]
) -> dict[str, int | None]:
    if table != REACH:
        return {}
    return {"adult_id": adults[number, item.adult] if item.adult else None}


def _standing(session: Session, ids: Sequence[int]) -> Standing:
    """Return what is held of some people, by the keys that a file would give it."""
    found: Standing = defaultdict(dict)
    adult_keys: dict[int, str] = {}
    for row in _rows(session, ADULT, ids):
        key = key_of(ADULT, row)
        adult_keys[row["id"]] = key
        found[row["person_id"]][key] = (ADULT, row["id"])
    for name in (REACH, RISK):
        for row in _rows(session, name, ids):
            whose = adult_keys.get(row["adult_id"]) if name == REACH else None
            found[row["person_id"]][key_of(name, row, whose)] = (name, row["id"])
    return found


def _rows(session: Session, name: str, ids: Sequence[int]) -> Iterable[Any]:
    table = _TABLES[name]
    wanted = select(table).where(table.c.person_id.in_(ids), stands(table))
    return session.execute(wanted).mappings()
