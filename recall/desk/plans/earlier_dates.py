"""Dates that an adopted protocol would bring forward: a clinician's list, one answer each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import insert, select, update

from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.replanning import plan_people
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import NotFound
from recall.records import tables
from recall.records.facts.candidates import of_sites
from recall.records.journal.history import Change, append_all
from recall.records.tables.statements import table_of, whole


@dataclass(frozen=True)
class ProposalRow:
    """One open ask that could come earlier."""

    number: int
    reference: str
    ear: str
    track: str
    rule: str
    urgency: str
    latest: date
    would_be: date


@needs(Right.LOOK)
def proposals(desk: Desk) -> tuple[ProposalRow, ...]:
    """Return what still waits for an answer, the earliest first."""
    p, d = tables.Proposal, tables.Due
    wanted = (
        select(p.id, tables.Person.ref, d.ear, d.track, d.rule, d.urgency, d.latest, p.latest)
        .join_from(tables.Proposal, tables.Due, p.due_id == d.id)
        .join(tables.Person, tables.Person.id == p.person_id)
        .where(p.answer.is_(None), p.void_at.is_(None), d.is_open)
        .order_by(p.latest, p.id)
    )
    with desk.store.read() as session:
        only_shown(desk, session)
        wanted = wanted.where(*of_sites(session, tables.Proposal.person_id))
        return tuple(ProposalRow(*row) for row in session.execute(wanted))


@needs(Right.DECIDE, number="earlier_date")
def answer(desk: Desk, number: int, *, forward: bool, why: str) -> None:
    """Bring a date forward, or leave it; by somebody who may decide.

    Raises:
        Refused: whoever acts may not decide.
        NotFound: no such proposal, or it has been answered.
    """
    p, d = tables.Proposal, tables.Due
    wanted = (
        select(whole(tables.Proposal), whole(tables.Due))
        .join_from(tables.Proposal, tables.Due, p.due_id == d.id)
        .where(p.id == number, p.answer.is_(None), p.void_at.is_(None), d.is_open)
    )
    with desk.store.write() as session:
        found = session.execute(wanted).first()
        if found is None:
            raise NotFound(
                f"Proposal {number} does not wait for an answer.",
                hint="See `recall protocol proposals`.",
            )
        row, due = found
        if forward:
            session.execute(insert(table_of(tables.Decision)), _moved(desk, row, due, why))
        values = {
            "answer": "brought_forward" if forward else "left",
            "answered_at": desk.now,
            "answered_by_id": desk.by.id,
            "why": why,
        }
        session.execute(update(table_of(tables.Proposal)).where(p.id == number).values(**values))
        change = Change(
            "answered", "proposal", number, None, {"answer": values["answer"]}, row.person_id
        )
        append_all(session, desk.by.id, desk.now, [change])
        if forward:
            plan_people(desk, session, [row.person_id])


def _moved(desk: Desk, row: tables.Proposal, due: tables.Due, why: str) -> dict[str, Any]:
    """Return the decision that brings a due forward, never to a day gone by."""
    days = {"earliest": row.earliest, "target": row.target, "latest": row.latest}
    return {
        "person_id": row.person_id,
        "ear": due.ear,
        "track": due.track,
        "kind": due.kind,
        "asked_on": due.asked_on,
        "action": "move",
        "urgency": due.urgency,
        "reason": "clinician_decision",
        **{name: max(day, desk.today) for name, day in days.items()},
        "why": why or "Brought forward by an adopted protocol.",
        "on": desk.today,
        "recorded_at": desk.now,
        "by_id": desk.by.id,
    }
