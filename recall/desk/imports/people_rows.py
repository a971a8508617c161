"""The register's rows that belong to people: put in for new ones, brought up to date for others."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any, NamedTuple, TypeVar

from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from recall.desk.imports.file_digests import Batch, Digests, Loss
from recall.desk.imports.people_items import ADULT, CONTACT_POINT, OLDER, RISK, Item, Items, key_of
from recall.desk.imports.taking_away import SAFE_ONLY
from recall.records import tables
from recall.records.database.bulk import insert_numbered, insert_rows
from recall.records.facts.cases import stands
from recall.records.tables.statements import table_of, whole

ITEM_TABLES: dict[str, type[tables.AdultFor | tables.ContactPoint | tables.PersonRisk]] = {
    ADULT: tables.AdultFor,
    CONTACT_POINT: tables.ContactPoint,
    RISK: tables.PersonRisk,
}
Belongs = TypeVar("Belongs", tables.AdultFor, tables.ContactPoint, tables.PersonRisk)
_WORDS = {ADULT: "adult", CONTACT_POINT: "number or address", RISK: "risk"}
WHY = "No longer in the practice's file."
HeldItems = dict[int, dict[str, tuple[str, int]]]
"""By person: an item's key to its table and row number."""


def insert_items(session: Session, batch: Batch, people: Sequence[tuple[int, Items]]) -> None:
    """Insert everything that belongs to some people of whom nothing is held."""
    _insert(session, batch, [(n, key, item) for n, items in people for key, item in items.items()])


def last_items(session: Session) -> dict[str, int]:
    """Return the last number of each table of items: what comes next has a higher one."""
    found = {name: session.scalar(select(func.max(kind.id))) for name, kind in ITEM_TABLES.items()}
    return {name: number or 0 for name, number in found.items()}


class Told(NamedTuple):
    """What a file says of what belongs to one person."""

    number: int
    ref: str
    items: Items
    before: Digests
    """What it had said of what it changed."""
    changed: Collection[str]
    """What it changed: of the rest, what the desk took away stays away."""


def bring_up_to_date(session: Session, batch: Batch, people: Sequence[Told]) -> None:
    """Void what the file brought and no longer has; insert what it has newly."""
    held_items = _held_items(session, [told.number for told in people])
    safe = _safe_to_use(session, [told.number for told in people])
    gone: dict[str, list[int]] = defaultdict(list)
    new: list[tuple[int, str, Item]] = []
    for number, ref, items, before, changed in people:
        held = held_items.get(number, {})
        stricter = _stricter(held, items, safe) if SAFE_ONLY in changed else set[str]()
        lost = [held[key] for key in (*_gone(held, items, before), *sorted(stricter))]
        for table, row in lost:
            gone[table].append(row)
            batch.people_before[number]["gone"].setdefault(table, []).append(row)
        new_keys = {key for key in items if key in changed and key not in held}
        new_keys |= stricter
        new_keys |= {whose for key in new_keys if (whose := items[key].adult) and whose not in held}
        mine = [(number, key, item) for key, item in items.items() if key in new_keys]
        batch.lost += _losses(ref, [table for table, _row in lost], mine)
        new += mine
    void = {"void_at": batch.desk.now, "void_by_id": batch.desk.by.id, "void_why": WHY}
    for name, rows in gone.items():
        kind = table_of(ITEM_TABLES[name])
        session.execute(update(kind).where(kind.c.id.in_(rows)).values(**void))
    held_adults = {
        (number, key): row
        for number, held in held_items.items()
        for key, (table, row) in held.items()
        if table == ADULT
    }
    _insert(session, batch, new, held_adults)


def _safe_to_use(session: Session, people: Sequence[int]) -> set[int]:
    """Return the numbers and addresses of some people that may be used."""
    c = tables.ContactPoint
    wanted = select(c.id).where(c.person_id.in_(people), c.safe == "yes", stands(c))
    return set(session.scalars(wanted))


def _stricter(held: Mapping[str, tuple[str, int]], items: Items, safe: Collection[int]) -> set[str]:
    """Return the keys of what is held as safe to use, and is not by what the file says now."""
    ways = {key for key, (table, row) in held.items() if table == CONTACT_POINT and row in safe}
    return {key for key in ways & items.keys() if items[key].values["safe"] != "yes"}


def _gone(held: Collection[str], items: Items, before: Digests) -> list[str]:
    """Return the keys of what the file brought, no longer has, and the register still holds."""
    of_older = {f"{OLDER}/{key.partition('/')[2]}": key for key in held}
    keys = {of_older.get(key, key) for key in before}
    return sorted(key for key in keys - items.keys() if key in held)


def _losses(ref: str, gone: list[str], new: list[tuple[int, str, Item]]) -> Iterable[Loss]:
    """Return what goes of a person without another of its kind in its place."""
    came = Counter(item.table for _number, _key, item in new)
    for table, count in sorted(Counter(gone).items()):
        yield from [Loss(ref, _WORDS[table])] * (count - came[table])


def _insert(
    session: Session,
    batch: Batch,
    rows: Sequence[tuple[int, str, Item]],
    adults: dict[tuple[int, str], int] | None = None,
) -> None:
    """Insert rows table by table; adults first, since their numbers are pointed to."""
    adult_ids = dict(adults or {})
    new_adults = [(number, key, item) for number, key, item in rows if item.table == ADULT]
    if new_adults:
        table = ITEM_TABLES[ADULT]
        values = [_adult_row(batch, number, item) for number, _key, item in new_adults]
        ids = insert_numbered(session, table, values)
        for row, (number, key, _item) in zip(ids, new_adults, strict=True):
            adult_ids[number, key] = row
    for name in (CONTACT_POINT, RISK):
        mine = [(n, item) for n, _key, item in rows if item.table == name]
        values = [
            {"person_id": n, **item.values, **_whose(name, n, item, adult_ids)} for n, item in mine
        ]
        insert_rows(session, ITEM_TABLES[name], values, batch.made)


def _adult_row(batch: Batch, number: int, item: Item) -> dict[str, Any]:
    language = item.values["language"] or batch.desk.config.letters.languages[0]
    return {"person_id": number, **item.values, "language": language, **batch.made}


def _whose(
    table: str, number: int, item: Item, adults: dict[tuple[int, str], int]
) -> dict[str, int | None]:
    if table != CONTACT_POINT:
        return {}
    return {"adult_id": adults[number, item.adult] if item.adult else None}


def _held_items(session: Session, ids: Sequence[int]) -> HeldItems:
    """Return what is held of some people, by the keys that a file would give it."""
    found: HeldItems = defaultdict(dict)
    adult_keys: dict[int | None, str] = {}
    says: dict[str, Any]
    for adult in _rows(session, tables.AdultFor, ids):
        says = {"name": adult.name, "role": adult.role, "relation": adult.relation}
        key = adult_keys[adult.id] = key_of(ADULT, says)
        found[adult.person_id][key] = (ADULT, adult.id)
    for way in _rows(session, tables.ContactPoint, ids):
        says = {"kind": way.kind, "rank": way.rank, "raw": way.raw}
        key = key_of(CONTACT_POINT, says, adult_keys.get(way.adult_id))
        found[way.person_id][key] = (CONTACT_POINT, way.id)
    for risk in _rows(session, tables.PersonRisk, ids):
        says = {"what": risk.what, "ear": risk.ear, "since": risk.since, "until": risk.until}
        found[risk.person_id][key_of(RISK, says)] = (RISK, risk.id)
    return found


def _rows(session: Session, table: type[Belongs], ids: Sequence[int]) -> Iterable[Belongs]:
    return session.scalars(select(whole(table)).where(table.person_id.in_(ids), stands(table)))
