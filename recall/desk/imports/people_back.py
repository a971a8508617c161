"""People of a run that is taken back: who came with it goes, what it changed is as it was."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec
from sqlalchemy import ColumnElement, delete, or_, select, update
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.desk.imports.file_digests import pairs
from recall.desk.imports.people_rows import ITEM_TABLES
from recall.desk.imports.taken_back import TakenBack
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.people.finding import rekey
from recall.records.tables.statements import looked_at, table_of

_BY_ITSELF = ("due", "follow_up", "day")
"""What lines of the history are about that say nothing of how somebody was touched."""
_HOLDS: dict[str, type[tables.Visit | tables.Contact | tables.Booking | tables.Letter]] = {
    "seen": tables.Visit,
    "rung": tables.Contact,
    "booked": tables.Booking,
    "written to": tables.Letter,
}
AGAIN: dict[str, Any] = {"void_at": None, "void_by_id": None, "void_why": None}
"""What lets a voided row stand again."""


def take_back(
    desk: Desk,
    session: Session,
    done: TakenBack,
    told: Sequence[tuple[str, str, int, int | None]],
) -> None:
    """Take back what a run did to people themselves."""
    mine = {n: what for what, entity, n, _person in told if entity == "person"}
    for some in pages(sorted(mine)):
        since = _touched(session, done.run, some)
        c = tables.Person
        refs: dict[int, str] = pairs(session, select(c.id, c.ref).where(c.id.in_(some)))
        for number in some:
            if number in since:
                done.stays.append(f"person {refs[number]}: {since[number]}")
                done.refs.add(refs[number])
            elif mine[number] == "added":
                _void_person(desk, session, done, number)
            else:
                _restore(desk, session, done, number, _before(session, done.run, number))
    rekey(session, [n for n in mine if mine[n] != "added"])


def of_run(run: int) -> ColumnElement[bool]:
    """Return the condition that a line of the history is of something that a run did."""
    content = tables.HistoryPayload.content
    return or_(*(content.contains(f'"now":{{"import":{run}{end}') for end in (",", "}")))


def _touched(session: Session, run: int, numbers: Sequence[int]) -> dict[int, str]:
    """Return who was seen, rung, booked, written to or changed since, with how."""
    found: dict[int, str] = {}
    h, p = tables.History, tables.HistoryPayload
    ours = select(h.person_id, h.id).join(p, p.history_id == h.id).where(of_run(run))
    ours = ours.where(h.person_id.in_(numbers)).order_by(h.id)
    last: dict[int | None, int] = pairs(session, ours)
    later = select(h.person_id, h.id, h.what, h.entity).where(h.person_id.in_(numbers))
    for number, seq, what, entity in session.execute(later.order_by(h.id)):
        if number is not None and seq > last[number] and entity not in _BY_ITSELF:
            found[number] = f"{entity.replace('_', ' ')} {what} since"
    for words, table in _HOLDS.items():
        held = select(table.person_id).where(table.person_id.in_(numbers), stands(table))
        newly = [n for n in session.scalars(held) if n in _added(session, run, numbers)]
        found.update(dict.fromkeys(newly, f"was {words} since"))
    return found


def _added(session: Session, run: int, numbers: Sequence[int]) -> set[int]:
    h, p = tables.History, tables.HistoryPayload
    wanted = (
        select(h.person_id)
        .join(p, p.history_id == h.id)
        .where(
            h.person_id.in_(numbers),
            looked_at(h.entity) == "person",
            h.what == "added",
            of_run(run),
        )
    )
    return {n for n in session.scalars(wanted) if n is not None}


def _void_person(desk: Desk, session: Session, done: TakenBack, number: int) -> None:
    why = f"Run {done.run} was taken back."
    void = {"void_at": desk.now, "void_by_id": desk.by.id, "void_why": why}
    for kind in ITEM_TABLES.values():
        table = table_of(kind)
        standing = table.c.person_id == number, table.c.void_at.is_(None)
        session.execute(update(table).where(*standing).values(**void))
    person, keys = table_of(tables.Person), table_of(tables.PersonKey)
    session.execute(update(person).where(person.c.id == number).values(**void))
    session.execute(delete(keys).where(keys.c.person_id == number))
    done.voided["person"] += 1
    done.note("voided", "person", number, number)


def _before(session: Session, run: int, number: int) -> dict[str, Any]:
    """Return what a person's fields were before a run, and which items came and went with it."""
    h, p = tables.History, tables.HistoryPayload
    wanted = (
        select(p.content)
        .join(h, p.history_id == h.id)
        .where(
            h.person_id == number, looked_at(h.entity) == "person", h.what == "changed", of_run(run)
        )
    )
    was: dict[str, Any] = msgspec.json.decode(session.scalars(wanted).one() or "{}")["was"]
    return was


def _restore(
    desk: Desk, session: Session, done: TakenBack, number: int, was: dict[str, Any]
) -> None:
    """Put a person's fields back, and what belonged to them."""
    table = table_of(tables.Person)
    values = {name: typed(table.c[name], value) for name, value in was["columns"].items()}
    values["version"] = tables.Person.version + 1
    session.execute(update(table).where(table.c.id == number).values(**values))
    void = {
        "void_at": desk.now,
        "void_by_id": desk.by.id,
        "void_why": f"Run {done.run} was taken back.",
    }
    for name, kind in ITEM_TABLES.items():
        items = table_of(kind)
        new = (
            items.c.person_id == number,
            items.c.void_at.is_(None),
            items.c.id > was["after"][name],
        )
        session.execute(update(items).where(*new).values(**void))
        gone = items.c.id.in_(was["gone"].get(name, ()))
        session.execute(update(items).where(gone).values(**AGAIN))
    done.touched.add(number)
    done.restored["person"] += 1
    done.note("restored", "person", number, number)


def typed(column: Any, value: Any) -> Any:
    """Return a value as its column wants it, from the history's JSON."""
    kind = getattr(column.type, "impl_instance", column.type).python_type
    if value is None or column.name == "needs":
        return tuple(value) if value is not None else None
    return msgspec.convert(value, kind, strict=False)
