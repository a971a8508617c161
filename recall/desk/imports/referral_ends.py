"""How a referral of a file ends, and how what its row told before is taken off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec
from sqlalchemy import exists, select, update
from sqlalchemy.orm import Session

from recall.care.case import UnderCare
from recall.desk.imports.file_digests import Batch, pairs
from recall.exchange.referrals_in import ReferralRow
from recall.records import tables
from recall.records.database.bulk import insert_numbered
from recall.records.facts.cases import stands
from recall.records.facts.referral_loops import referral_loops
from recall.records.tables.statements import table_of
from recall.schedule.plan import CloseReason

RESULT_BACK = "result_back"
DECIDED_ON = frozenset({"rejected", "discharged"})
"""After these a clinician decides: the referral stays open."""
FROM_FILE = "From the practice's file"


def open_again(
    session: Session,
    batch: Batch,
    meant: Sequence[tables.Referral],
    own: Sequence[int],
    row: ReferralRow,
) -> None:
    """Take off what the row told before, and open what it closed: it says anew how it stands."""
    person_id, u = meant[0].person_id, tables.UnderCare
    mine = u.person_id == person_id, _came_with(u, own), stands(u)
    cared = [
        number
        for number, content in session.execute(select(u.id, u.content).where(*mine))
        if _is_of(msgspec.json.decode(content, type=UnderCare), row)
    ]
    void_rows(session, batch, u, cared, person_id)
    for one in meant:
        decided = [number for number, is_own in ended_by(session, one, own).items() if is_own]
        void_rows(session, batch, tables.Decision, decided, person_id)
        if decided:
            opens = {"is_open": True, "chase_on": one.sent_by, "ended_on": None, "end_reason": None}
            _change(session, batch, one, opens)


def _is_of(care: UnderCare, row: ReferralRow) -> bool:
    return care.of == row.service and care.ear in row.ears


def _came_with(kind: type[tables.Decision | tables.UnderCare], own: Sequence[int]) -> Any:
    """Return the condition that a row was written in one act with some events."""
    e = tables.ReferralEvent
    same = e.recorded_no == kind.recorded_no, e.recorded_at == kind.recorded_at
    return exists().where(e.id.in_(own), *same)


def ended_by(session: Session, one: tables.Referral, own: Sequence[int]) -> dict[int, bool]:
    """Return the decisions that ended a referral, each with whether the row itself made it."""
    d = tables.Decision
    mine = d.person_id == one.person_id, d.to == one.to, d.ear.in_(one.ears), stands(d)
    wanted = select(d.id, _came_with(d, own)).where(*mine, d.action == "close")
    return pairs(session, wanted.where(d.recorded_at >= one.recorded_at))


def _change(
    session: Session, batch: Batch, one: tables.Referral, values: Mapping[str, Any]
) -> None:
    table = table_of(tables.Referral)
    was = {name: getattr(one, name) for name in ("stage", *values)}
    session.execute(update(table).where(table.c.id == one.id).values(**values))
    batch.note("changed", "referral", one.id, one.person_id, was=was)


def void_rows(
    session: Session,
    batch: Batch,
    kind: type[tables.Base],
    numbers: Sequence[int],
    person_id: int,
) -> None:
    """Void what the file says otherwise by now."""
    table, why = table_of(kind), "Changed in the practice's file."
    void = {"void_at": batch.desk.now, "void_by_id": batch.desk.by.id, "void_why": why}
    session.execute(update(table).where(table.c.id.in_(numbers)).values(**void))
    for number in numbers:
        batch.note("voided", kind.__tablename__, number, person_id)


def end(session: Session, batch: Batch, one: tables.Referral, row: ReferralRow) -> None:
    """Close a referral and tell the fold, for what was found until the day on which it ended."""
    reason: CloseReason = "answered"
    if row.ended_because is not None and row.ended_because not in DECIDED_ON:
        reason = row.ended_because  # type: ignore[assignment]
    on = row.ended or row.result_on or row.seen or row.sent
    ends = {
        "is_open": False,
        "chase_on": None,
        "ended_on": on,
        "end_reason": RESULT_BACK if row.result else reason,
    }
    _change(session, batch, one, ends)
    told = {"to": row.service, "kind": "recheck", "action": "close", "reason": reason}
    why = row.result or f"{FROM_FILE}: {row.ended_because}"
    about = {**batch.made, "person_id": one.person_id, "asked_on": one.asked_on, "until": on}
    rows = [{**about, **told, "ear": ear, "why": why} for ear in one.ears]
    for number in insert_numbered(session, tables.Decision, rows):
        batch.note("added", "decision", number, one.person_id)


def under_care(
    session: Session, batch: Batch, meant: Sequence[tables.Referral], row: ReferralRow
) -> None:
    """Record that the service follows what it was asked about, once."""
    u, since = tables.UnderCare, row.seen or row.accepted or row.sent
    known = set(
        session.scalars(select(u.content).where(u.person_id == meant[0].person_id, stands(u)))
    )
    loops = referral_loops(session, [one.id for one in meant])
    parts = {(r.ear, r.track) for loop in loops.values() for r in loop.referral.reasons}
    rows = []
    for ear, track in sorted(parts):
        care = UnderCare(of=row.service, ear=ear, track=track, since=since.isoformat())
        content = msgspec.json.encode(care).decode()
        if ear in row.ears and content not in known:
            rows.append({**batch.made, "person_id": meant[0].person_id, "content": content})
    for number in insert_numbered(session, tables.UnderCare, rows):
        batch.note("added", "under_care", number, meant[0].person_id)
