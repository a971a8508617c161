"""What was changed on a person's own rows, told by what the change was for.

The history says which columns changed; why stands in the other lines of the same action: what came
of a call, what was noted, what took the place.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.done import DAY, UNDID, said
from recall.desk.core.named import named
from recall.desk.people.editing import DETAILS
from recall.desk.people.timeline_words import plain, way
from recall.loop.outcomes import OUTCOMES
from recall.records import tables
from recall.records.journal.names import table_now, tables_ever
from recall.records.tables.statements import whole
from recall.schedule.calendar import say_day

_ON_A_PERSON = tables_ever(("person", "contact_point", "person_risk", "adult_for"))
_QUIET = frozenset({"version", "recorded_at", "recorded_no", "by_id"})
_STRIKES: dict[str, str] = {each.id: each.words for each in OUTCOMES if each.ends_number}


def changed(session: Session, person_id: int) -> Iterator[tuple[tables.History, str]]:
    """Tell notes, and what was changed on the person's own rows."""
    h = tables.History
    wanted = (
        select(whole(tables.History), tables.HistoryPayload.content)
        .join_from(tables.History, tables.HistoryPayload, tables.HistoryPayload.history_id == h.id)
        .where(h.person_id == person_id, h.what.in_(("noted", "changed")))
        .where(h.entity.in_(_ON_A_PERSON) | (h.what == "noted"))
        .order_by(h.id)
    )
    ended = set()
    for row, content in session.execute(wanted):
        told, entity = said(content), table_now(row.entity)
        if not told:
            continue
        this = entity, row.entity_id, row.at
        if row.what == "noted":
            if this not in ended:  # why it ended is told with it
                yield row, f"{_about(session, row)}, noted: {told['now']}"
            continue
        was, now = told.get("was") or {}, told.get("now") or {}
        if entity == "contact_point" and isinstance(now, dict) and "until" in now:
            ended.add(this)
            yield row, f"{_about(session, row)} {_ended(session, row, now)}"
        else:
            yield row, _columns(_about(session, row), was, now)


def _columns(about: str, was: dict[str, Any], now: Any) -> str:
    if not isinstance(now, dict):
        return f"{about}: {now}."
    parts = [
        f"{DETAILS.get(name, plain(name))} from {_shown(was.get(name))} to {_shown(value)}"
        for name, value in now.items()
        if name not in _QUIET
    ]
    return f"{about}, changed: {'; '.join(parts)}."


def _about(session: Session, row: tables.History) -> str:
    """Return what a line is about, as people call it: never the number of a row of a person's."""
    entity, number = table_now(row.entity), row.entity_id
    if entity == "contact_point":
        c = tables.ContactPoint
        kind, raw = session.execute(select(c.kind, c.raw).where(c.id == number)).one()
        return way(kind, raw)
    if entity == "adult_for":
        a = tables.AdultFor
        return f"Responsible adult {session.scalar(select(a.name).where(a.id == number))}"
    if entity == "person_risk":
        r = tables.PersonRisk
        return f"Risk {plain(session.scalar(select(r.what).where(r.id == number)) or '')}"
    if entity == "person":
        return named(session, number)
    return f"{plain(entity).capitalize()} {number}"


def _ended(session: Session, row: tables.History, now: dict[str, Any]) -> str:
    """Return what became of a number or address, and why, from the action that did it."""
    lines = _action(session, row)
    if now["until"] is None:
        back = bool(lines) and lines[-1].what == UNDID
        return "stands again: that was taken back." if back else "stands again."
    for line in lines:
        entity = table_now(line.entity)
        called = (line.what, entity) == ("added", "contact")
        if called and (struck := _struck(session, row, line.entity_id)):
            return struck
        if (line.what, entity) == ("added", "contact_point"):
            return f"was replaced: {_about(session, line)}."
        if line.what == "noted" and entity == "contact_point":
            return f"is right no longer: {_noted(session, line)}"
    return f"is used no longer, from {say_day(date.fromisoformat(now['until']))}."


def _struck(session: Session, row: tables.History, contact_id: int) -> str:
    """Say that a call struck a number; nothing where what came of it does not."""
    c = tables.Contact
    wanted = select(c.outcome, c.person_id).where(c.id == contact_id)
    outcome, whose = session.execute(wanted).one()
    if outcome not in _STRIKES:
        return ""
    other = "" if whose == row.person_id else " It was dialled for somebody else who has it."
    return f"was struck. {_STRIKES[outcome]}.{other}"


def _noted(session: Session, line: tables.History) -> str:
    p = tables.HistoryPayload
    content = session.scalar(select(p.content).where(p.history_id == line.id))
    return str(said(content).get("now", "")) or "the words were erased."


def _action(session: Session, row: tables.History) -> list[tables.History]:
    """Return the lines of the action that a line is of, the action's own last; none without one."""
    h, p = tables.History, tables.HistoryPayload
    same = h.at == row.at, h.by_id == row.by_id
    wanted = (
        select(h.id, p.content)
        .join_from(h, p, p.history_id == h.id)
        .where(h.id > row.id, h.entity == DAY, *same)
        .order_by(h.id)
        .limit(1)
    )
    found = session.execute(wanted).one_or_none()
    if found is None:
        return []
    number, content = found
    count = (said(content).get("now") or {}).get("rows", 0)
    its = select(whole(h)).where(h.id.between(number - count, number), *same).order_by(h.id)
    return list(session.scalars(its))


def _shown(value: Any) -> str:
    if value in (None, "", []):
        return "nothing"
    if isinstance(value, list):
        return ", ".join(map(str, value))
    with suppress(ValueError):
        return say_day(date.fromisoformat(str(value)))
    return str(value)
