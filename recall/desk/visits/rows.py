"""The rows of a visit: as the case file's visit, and from it."""

from __future__ import annotations

from datetime import date
from typing import Any

import msgspec
from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from recall.care.case import Visit
from recall.care.casefile import encode
from recall.care.ear import Ear
from recall.desk.core.acting import Act
from recall.desk.core.used_protocols import protocol_row
from recall.desk.visits.drafts import Draft
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import table_of
from recall.schedule.plan import Decision


def as_case(session: Session, row: tables.Visit) -> Visit:
    """Return a stored visit as the case file's."""
    wanted = select(tables.Findings.ear, tables.Findings.content).where(
        tables.Findings.visit_id == row.id
    )
    found = session.execute(wanted).all()
    ears = {side: msgspec.json.decode(content, type=Ear) for side, content in found}
    told = msgspec.json.decode(row.reported)
    handle = select(tables.Staff.handle).where(tables.Staff.id == row.examiner_id)
    examiner = session.scalars(handle).one_or_none() or row.examiner
    visit = {"on": row.on, "examiner": examiner, "reported": told}
    made = msgspec.convert({k: v for k, v in visit.items() if v is not None}, Visit)
    return msgspec.structs.replace(made, right=ears.get("right"), left=ears.get("left"))


def store_visit(act: Act, given: Draft) -> int:
    """Store a visit with its findings; whoever closes it confirms it, where they may decide."""
    desk, visit, note = act.desk, given.visit, given.note
    found = visit.right is not None or visit.left is not None
    examiner_id = _examiner_id(act, given)
    confirmed = desk.by.may_decide
    number = act.add(
        "visit",
        person_id=given.person_id,
        on=visit.on,
        ref=note.ref or _ref_of(act.session, note.corrects),
        examiner_id=examiner_id,
        examiner=None if examiner_id else visit.examiner,
        source="entered",
        # beside reports alone a category would be one that was set, and ask by itself
        category=note.category or (given.suggested if found else None),
        category_ears=note.ears,
        category_why=note.category_why.strip(),
        reported=msgspec.json.encode(visit.reported).decode(),
        note=(note.words or "").strip(),
        confirmed_at=act.at if confirmed else None,
        confirmed_by_id=desk.by.id if confirmed else None,
        corrects_id=note.corrects,
        protocol_id=protocol_row(desk, act.session),
    )
    ears = {"right": visit.right, "left": visit.left}
    rows = [
        {"visit_id": number, "ear": side, "content": encode(ear).decode()}
        for side, ear in ears.items()
        if ear is not None
    ]
    if rows:
        act.session.execute(insert(table_of(tables.Findings)), rows)
    return number


def _ref_of(session: Session, visit_id: int | None) -> str | None:
    """Return the practice's own reference of the visit whose place this one takes."""
    return session.scalar(select(tables.Visit.ref).where(tables.Visit.id == visit_id))


def _examiner_id(act: Act, given: Draft) -> int | None:
    """Return who examined: whoever is named, or else whoever closes the visit and may decide.

    Putting a visit right is no examination: where nobody was recorded, nobody is.
    """
    if given.visit.examiner is not None:
        return _staff_id(act.session, given.visit.examiner)
    examined = act.desk.by.may_decide and given.note.corrects is None
    return act.desk.by.id if examined else None


def _staff_id(session: Session, name: str) -> int | None:
    c = tables.Staff
    wanted = select(c.id).where((c.handle == name.lower()) | (c.name == name))
    return session.scalars(wanted.limit(1)).one_or_none()


def decision_row(person_id: int, change: Decision) -> dict[str, Any]:
    """Return the row of a decision."""
    return {"person_id": person_id, **msgspec.structs.asdict(change)}


def keep_appointment(act: Act, person_id: int, on: date, visit_id: int) -> None:
    """Record that an appointment of that day was kept."""
    c = tables.Booking
    ended = select(tables.BookingEvent.booking_id).where(stands(tables.BookingEvent))
    wanted = select(c.id, c.starts_local).where(
        c.person_id == person_id, stands(tables.Booking), c.id.not_in(ended)
    )
    for number, starts in act.session.execute(wanted).all():
        if starts.date() == on:
            kept = {"booking_id": number, "what": "attended", "visit_id": visit_id}
            act.add("booking_event", on=on, why="", **kept)
