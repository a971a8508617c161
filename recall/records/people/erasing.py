"""Erasing what is held on one person: the words go, the bare rows stay without identity.

Rows are never removed, or the history and the accounts would no longer hold together. What is
blanked is every text that is not a word of the program's own (`KEPT_WORDS`), so that a text
column added later is blanked as well; days stay, but of the person themselves only the year of
birth. What the history says about them is erased; that each line was there stays in its chain.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import msgspec
from sqlalchemy import Column, RowMapping, String, Table, and_, delete, or_, select, update
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.journal import history
from recall.records.people.finding import rekey
from recall.records.people.held import theirs
from recall.records.tables.base import Words
from recall.records.tables.statements import table_of, whole

ERASED = "erased"
"""What stands in the place of a text that must not be empty."""
KEPT_WORDS: dict[str, frozenset[str]] = {
    "person": frozenset({"site"}),
    "person_risk": frozenset({"what", "ear"}),
    "adult_for": frozenset({"role"}),
    "contact_point": frozenset({"kind", "safe"}),
    "visit": frozenset({"source", "category", "category_ears"}),
    "findings": frozenset({"ear"}),
    "contact": frozenset({"step", "channel", "outcome"}),
    "booking": frozenset({"zone"}),
    "booking_event": frozenset({"what"}),
    "also_about": frozenset({"step"}),
    "referral": frozenset({"to", "ears", "urgency", "route", "stage", "end_reason"}),
    "referral_event": frozenset({"what"}),
    "due": frozenset({"ear", "track", "kind", "category", "rule", "urgency"}),
    "due_event": frozenset({"what", "reason"}),
    "decision": frozenset(
        {"ear", "track", "to", "kind", "action", "category", "urgency", "reason", "rule", "because"}
    ),
    "milder_line": frozenset({"ear", "about", "was", "now"}),
    "proposal": frozenset({"answer"}),
    "loosened_line": frozenset({"rule", "answer"}),
    "follow_up": frozenset({"urgency", "tracks", "ears", "step", "close_reason"}),
    "follow_up_event": frozenset({"what"}),
    "matter": frozenset({"kind", "owner_role", "closed_how"}),
    "letter": frozenset({"step", "kind", "language", "format"}),
    "failsafe_finding": frozenset({"kind", "entity"}),
    "looked": frozenset({"place"}),
}
"""Words of the program's own, which accounts count by; and who looked, which is about staff."""
_MARKED = frozenset({"void_why", "held_why", "pulled_why", "problem"})
"""Texts by whose being there something is told."""
_JSON = {"findings": "{}", "under_care": "{}", "told_by_others": "{}", "visit": "[]"}
_JSON |= {"referral": "[]"}
_APART = frozenset({"history", "history_payload"})
_OWN = frozenset({"deceased_on", "objected_on", "unsafe_on", "moved_on"})
"""Days of the person's own row."""
_OPEN = ("follow_up", "referral", "matter")


def blanked(table: Table) -> dict[str, Any]:
    """Return what each text of a table's rows is set to."""
    kept = KEPT_WORDS.get(table.name, frozenset())
    free = (c for c in table.c if _is_text(c) and c.name not in kept and not c.foreign_keys)
    return {column.name: _blank(column) for column in free}


def _is_text(column: Column[Any]) -> bool:
    return isinstance(column.type, String | Words)


def _blank(column: Column[Any]) -> Any:
    if column.nullable:
        return None
    if isinstance(column.type, Words):
        return ()
    return _JSON.get(column.table.name, "") if _holds_json(column) else ""


def _holds_json(column: Column[Any]) -> bool:
    return column.name in ("content", "reported") or column.name == "reasons"


def erase(session: Session, person_id: int, by_id: int, at: datetime) -> int:
    """Blank everything held on one person; return how many rows that was.

    The person's own row is voided; what still stands open is voided with it, so that no list
    asks for somebody whom nobody knows any more.
    """
    person = session.scalars(
        select(whole(tables.Person)).where(tables.Person.id == person_id)
    ).one()
    refs, named, count = {person.ref}, set[tuple[str, int]](), 0
    for table, wanted in theirs(person_id):
        if table.name in _APART:
            continue
        for row in session.execute(wanted).mappings().all():
            count += 1
            if row.get("ref"):
                refs.add(row["ref"])
            if "id" in row:
                named.add((table.name, row["id"]))
            _blank_row(session, table, row)
    _void(session, person, by_id, at)
    seen = tables.ImportSeen.ref.in_(sorted(refs))
    session.execute(delete(table_of(tables.ImportSeen)).where(seen))
    session.execute(delete(table_of(tables.ToPlan)).where(tables.ToPlan.person_id == person_id))
    rekey(session, [person_id])
    history.erase(session, by_id, at, ERASED, _lines_about(session, person_id, named))
    return count


def _blank_row(session: Session, table: Table, row: RowMapping) -> None:
    values = blanked(table)
    for name in _MARKED & values.keys():
        values[name] = None if row[name] is None else ERASED
    if table.name == "contact_point":
        values["problem"] = ERASED
    if table.name == "letter":
        values["fields"] = _number_alone(row["fields"])
    if table.name == "person":
        values |= {"ref": f"{ERASED}-{row['id']}", "family_name": ERASED, "language": "en"}
        values |= dict.fromkeys(_OWN) | {"format": "standard", "born": _year_alone(row["born"])}
    if values:
        mine = and_(*(column == row[column.name] for column in table.primary_key))
        session.execute(update(table).where(mine).values(**values))


def _year_alone(born: date) -> date:
    return born.replace(month=1, day=1)


def _number_alone(fields: str) -> str:
    """Return the number at the top of a letter, by which its batch counts it."""
    known = msgspec.json.decode(fields)
    return msgspec.json.encode({"number": known.get("number", ""), "email": ""}).decode()


def _void(session: Session, person: tables.Person, by_id: int, at: datetime) -> None:
    """Void the person, and whatever still stands open."""
    void = {"void_at": at, "void_by_id": by_id, "void_why": ERASED}
    p = table_of(tables.Person)
    session.execute(update(p).where(p.c.id == person.id, p.c.void_at.is_(None)).values(**void))
    for name in _OPEN:
        t = tables.Base.metadata.tables[name]
        open_ = t.c.person_id == person.id, t.c.is_open, t.c.void_at.is_(None)
        session.execute(update(t).where(*open_).values(**void))
    letter, booking = table_of(tables.Letter), table_of(tables.Booking)
    waits = letter.c.person_id == person.id, letter.c.posted_on.is_(None)
    session.execute(update(letter).where(*waits, letter.c.void_at.is_(None)).values(**void))
    over = select(tables.BookingEvent.booking_id)
    coming = booking.c.person_id == person.id, booking.c.id.not_in(over)
    session.execute(update(booking).where(*coming, booking.c.void_at.is_(None)).values(**void))


def _lines_about(session: Session, person_id: int, named: set[tuple[str, int]]) -> list[int]:
    """Return the lines of the history about somebody or a row of theirs, not erased yet."""
    h, payload = tables.History, tables.HistoryPayload
    found: set[int] = set()
    by_table: dict[str, list[int]] = {}
    for name, number in sorted(named):
        by_table.setdefault(name, []).append(number)
    about: list[Any] = [h.person_id == person_id]
    about += [and_(h.entity == name, h.entity_id.in_(some)) for name, some in by_table.items()]
    wanted = select(h.id).join(payload, payload.history_id == h.id)
    found.update(session.scalars(wanted.where(or_(*about), payload.content.is_not(None))))
    return sorted(found)
