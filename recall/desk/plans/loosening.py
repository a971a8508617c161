"""What an adopted protocol no longer asks, or asks later: a list by rule for the clinical lead.

Adopting changes no date. Each rule is answered as a group: its lines are struck out or moved as
the new rules have them, or left as they stand. What is an emergency or urgent, what a clinician
moved by hand, and a referral that was sent are not on the list: each of these is for one person.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

import msgspec
from sqlalchemy import insert, select, update
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.replanning import plan_people
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.plans.moves import Move
from recall.errors import InputError, NotFound
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.journal.history import Change, append_all
from recall.records.ledger.referrals import UNSENT
from recall.records.tables.statements import table_of, whole
from recall.schedule.combine import PRESSING
from recall.schedule.plan import Reason

_reasons = msgspec.json.Decoder(tuple[Reason, ...]).decode


@dataclass(frozen=True)
class LoosenedRule:
    """One rule's lines that wait for an answer."""

    rule: str
    gone: int
    """No longer asked for."""
    later: int
    references: tuple[str, ...]
    """A few of the people."""


def keep_loosened(desk: Desk, session: Session, protocol_id: int, moves: Sequence[Move]) -> int:
    """Keep what an adoption would loosen, inside its transaction; return how many lines."""
    found = []
    for move in moves:
        line = _referral(session, move) if move.kind == "refer" else _due(session, move)
        if line is None:
            continue
        days = dict(zip(("earliest", "target", "latest"), move.window or (None,) * 3, strict=True))
        found.append(
            {
                "person_id": move.person_id,
                "protocol_id": protocol_id,
                "due_id": None,
                "referral_id": None,
                **line,
                **days,
                "why": "",
                "on": desk.today,
                "recorded_at": desk.now,
                "by_id": desk.by.id,
            }
        )
    if found:
        session.execute(insert(table_of(tables.LoosenedLine)), found)
    return len(found)


def _due(session: Session, move: Move) -> dict[str, Any] | None:
    """Return the open due that is meant, unless it presses or somebody moved it by hand."""
    c, d = tables.Due, tables.Decision
    by_hand = (
        select(d.id)
        .where(d.person_id == c.person_id, d.ear == c.ear, d.track == c.track, stands(d))
        .where(d.action.in_(("move", "weigh")), d.on == c.asked_on)
    )
    wanted = select(c.id, c.rule).where(
        *(c.person_id == move.person_id, c.ear == move.ear, c.track == move.track),
        *(c.kind == move.kind, c.is_open, c.urgency.not_in(PRESSING), ~by_hand.exists()),
        ~c.rule.startswith("category-"),
    )
    row = session.execute(wanted).first()
    return {"due_id": row.id, "rule": row.rule} if row else None


def _referral(session: Session, move: Move) -> dict[str, Any] | None:
    """Return the referral that is meant, unless it presses or was sent."""
    r = tables.Referral
    wanted = select(whole(r)).where(
        *(r.person_id == move.person_id, r.to == move.track, r.is_open, r.stage == UNSENT),
        r.urgency.not_in(PRESSING),
    )
    for row in session.scalars(wanted):
        if move.ear in row.ears and not move.rule.startswith("category-"):
            return {"referral_id": row.id, "rule": move.rule}
    return None


@needs(Right.LOOK)
def loosened(desk: Desk) -> tuple[LoosenedRule, ...]:
    """Return what waits for an answer, by rule, the most lines first."""
    with desk.store.read() as session:
        rows = [(row, ref) for row, _line, ref in _waiting(session)]
    rules: dict[str, list[tuple[tables.LoosenedLine, str]]] = {}
    for row, ref in rows:
        rules.setdefault(row.rule, []).append((row, ref))
    found = [
        LoosenedRule(
            rule,
            sum(row.latest is None for row, _ in lines),
            sum(row.latest is not None for row, _ in lines),
            tuple(dict.fromkeys(ref for _, ref in lines))[:3],
        )
        for rule, lines in rules.items()
    ]
    return tuple(sorted(found, key=lambda each: (-each.gone - each.later, each.rule)))


@needs(Right.ADOPT)
def answer_loosened(desk: Desk, rule: str, *, take: bool, why: str) -> int:
    """Strike out and move a rule's lines as the new rules have it, or leave them all as they stand.

    Returns how many lines that was.

    Raises:
        InputError: no reason.
        NotFound: nothing of this rule waits.
    """
    if not why.strip():
        raise InputError("A whole group is not answered without a reason.", hint="Add --why.")
    with desk.store.write() as session:
        lines = [(row, line) for row, line, _ in _waiting(session) if row.rule == rule]
        if not lines:
            raise NotFound(f"Nothing of rule {rule} waits.", hint="See recall protocol loosened.")
        for row, line in lines:
            made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id}
            for decision in _decisions(row, line, why.strip()) if take else ():
                session.execute(insert(table_of(tables.Decision)), {**decision, **made})
        _answered(desk, session, [row for row, _ in lines], take, why.strip())
        if take:
            plan_people(desk, session, sorted({row.person_id for row, _ in lines}))
    return len(lines)


def _waiting(
    session: Session,
) -> list[tuple[tables.LoosenedLine, tables.Due | tables.Referral, str]]:
    """Return the lines without an answer that are still open, each with its row and its person."""
    loose, person = tables.LoosenedLine, tables.Person
    unanswered = loose.answer.is_(None), stands(loose)
    looks = (
        select(whole(loose), whole(tables.Due), person.ref)
        .join_from(loose, tables.Due, loose.due_id == tables.Due.id)
        .join(person, person.id == loose.person_id)
        .where(*unanswered, tables.Due.is_open)
    )
    sent = (
        select(whole(loose), whole(tables.Referral), person.ref)
        .join_from(loose, tables.Referral, loose.referral_id == tables.Referral.id)
        .join(person, person.id == loose.person_id)
        .where(*unanswered, tables.Referral.is_open, tables.Referral.stage == UNSENT)
    )
    found: list[tuple[tables.LoosenedLine, tables.Due | tables.Referral, str]] = []
    for wanted in (looks, sent):
        found += [(row, line, ref) for row, line, ref in session.execute(wanted).all()]
    return sorted(found, key=lambda each: each[0].id)


def _decisions(
    row: tables.LoosenedLine, line: tables.Due | tables.Referral, why: str
) -> list[dict[str, Any]]:
    """Return the decisions that make a line as the new rules have it."""
    same: dict[str, Any] = {"person_id": row.person_id, "because": "judgement", "why": why}
    strikes = {**same, "action": "strike", "reason": "struck_out"}
    if row.referral_id is not None:
        return _withdrawn(cast(tables.Referral, line), strikes)
    line = cast(tables.Due, line)
    about = {"ear": line.ear, "track": line.track, "kind": line.kind}
    if row.latest is None:
        rules = (line.rule, *line.beaten) if line.kind == "recheck" else (line.rule,)
        return [{**strikes, **about, "rule": name} for name in rules]
    days = {"earliest": row.earliest, "target": row.target, "latest": row.latest}
    moves = {"action": "move", "reason": "clinician_decision", "asked_on": line.asked_on}
    return [{**same, **about, **days, **moves, "rule": line.rule}]


def _withdrawn(line: tables.Referral, strikes: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the decisions that strike out a referral, reason by reason."""
    reasons = _reasons(line.reasons.encode())
    named = dict.fromkeys((r.ear, r.track, r.rule) for r in reasons if r.ear in line.ears)
    about = {"to": line.to, "kind": "recheck"}
    return [{**strikes, **about, "ear": e, "track": t, "rule": n} for e, t, n in named]


def _answered(
    desk: Desk, session: Session, rows: Sequence[tables.LoosenedLine], take: bool, why: str
) -> None:
    values = {
        "answer": "taken" if take else "left",
        "answered_at": desk.now,
        "answered_by_id": desk.by.id,
        "why": why,
    }
    table = table_of(tables.LoosenedLine)
    numbers = [row.id for row in rows]
    session.execute(update(table).where(table.c.id.in_(numbers)).values(**values))
    now = {"answer": values["answer"], "why": why}
    changes = [
        Change("answered", "loosened_line", row.id, None, now, row.person_id) for row in rows
    ]
    append_all(session, desk.by.id, desk.now, changes)
