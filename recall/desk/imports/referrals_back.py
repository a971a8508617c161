"""A run of referrals or tests that is taken back: what it told goes, what it closed is open again.

A person's referrals that somebody followed at the desk since stay as they are, and are listed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import msgspec
from sqlalchemy import ColumnElement, select, update
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.desk.imports.people_back import AGAIN, of_run, typed
from recall.desk.imports.referrals import key_of
from recall.desk.imports.taken_back import TakenBack
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.ledger.stored import BY_ITSELF
from recall.records.tables.statements import looked_at, table_of

_TABLES: dict[str, type[tables.Base]] = {
    "referral_event": tables.ReferralEvent,
    "decision": tables.Decision,
    "under_care": tables.UnderCare,
    "told_by_others": tables.ToldByOthers,
}
_Told = tuple[str, str, int, int | None]
"""What was done, to which kind of row, to which row, of whom."""


def take_back(desk: Desk, session: Session, done: TakenBack, told: Sequence[_Told]) -> None:
    """Take back what a run of referrals or tests told, person by person."""
    mine: dict[int, list[_Told]] = defaultdict(list)
    for line in told:
        if line[3] is not None and (line[1] in _TABLES or line[1] == "referral"):
            mine[line[3]].append(line)
    for some in pages(sorted(mine)):
        touched = _touched(session, done.run, {person: mine[person] for person in some})
        before = _before(session, done.run, some)
        for person in some:
            if person in touched:
                _stay(session, done, mine[person], touched[person])
            else:
                _person_back(desk, session, done, mine[person], before)
                done.touched.add(person)


def _touched(session: Session, run: int, mine: Mapping[int, list[_Told]]) -> dict[int, str]:
    """Return whose referrals were followed or decided about at the desk since, with how."""
    e, r, d = tables.ReferralEvent, tables.Referral, tables.Decision
    events, decisions = _added(mine, "referral_event"), _added(mine, "decision")
    if not events:
        return {}
    told = (
        select(r.person_id, e.what)
        .join(r, r.id == e.referral_id)
        .where(
            r.id.in_(select(e.referral_id).where(e.id.in_(events))),
            e.id > min(events, default=0),
            e.id.not_in(events),
            e.what.not_in(BY_ITSELF),
            stands(e),
        )
    )
    decided = select(d.person_id, d.action).where(
        d.person_id.in_(mine),
        d.to.is_not(None),
        d.recorded_at >= select(tables.ImportRun.recorded_at).where(_is(run)).scalar_subquery(),
        d.id.not_in(decisions),
        stands(d),
    )
    found = {person: f"{what.replace('_', ' ')} since" for person, what in session.execute(told)}
    said = "decided about since"
    return {**found, **{person: said for person, _action in session.execute(decided)}}


def _is(run: int) -> ColumnElement[bool]:
    return tables.ImportRun.id == run


def _added(mine: Mapping[int, Iterable[_Told]], entity: str) -> list[int]:
    new = ("added", entity)
    return [n for lines in mine.values() for what, of, n, _p in lines if (what, of) == new]


def _before(session: Session, run: int, people: Sequence[int]) -> dict[int, dict[str, Any]]:
    """Return what the referrals that a run changed were before."""
    h, p = tables.History, tables.HistoryPayload
    wanted = (
        select(h.entity_id, p.content)
        .join(p, p.history_id == h.id)
        .where(
            h.person_id.in_(people),
            looked_at(h.entity) == "referral",
            h.what == "changed",
            of_run(run),
        )
        .order_by(h.id.desc())
    )
    rows = session.execute(wanted)
    return {n: msgspec.json.decode(content)["was"] for n, content in rows if content}


def _stay(session: Session, done: TakenBack, lines: Sequence[_Told], how: str) -> None:
    """List what stays of somebody, by the rows of the file that it came with."""
    e = tables.ReferralEvent
    ids = [n for _what, entity, n, _person in lines if entity == "referral_event"]
    notes = session.scalars(select(e.note).where(e.id.in_(ids), stands(e)).distinct())
    for key in sorted(key_of(note) for note in notes):
        done.stays.append(f"referral {key}: {how}")
        done.refs.add(key)


def _person_back(
    desk: Desk,
    session: Session,
    done: TakenBack,
    lines: Sequence[_Told],
    before: Mapping[int, dict[str, Any]],
) -> None:
    void = {
        "void_at": desk.now,
        "void_by_id": desk.by.id,
        "void_why": f"Run {done.run} was taken back.",
    }
    for what, entity, number, person in dict.fromkeys(lines):
        if entity == "referral":
            table, change = table_of(tables.Referral), _values(before[number])
            done.restored["referral"] += 1
        else:
            table, change = table_of(_TABLES[entity]), void if what == "added" else AGAIN
            counted = done.voided if what == "added" else done.restored
            counted[entity] += 1
        standing = [table.c.void_at.is_(None)] if change is void else []
        session.execute(update(table).where(table.c.id == number, *standing).values(**change))
        done.note("voided" if change is void else "restored", entity, number, person)


def _values(was: Mapping[str, Any]) -> dict[str, Any]:
    table = table_of(tables.Referral)
    values = {name: typed(table.c[name], value) for name, value in was.items()}
    return values | {"version": tables.Referral.version + 1}
