"""What stood on a day, and how, worked out from facts alone.

On the register's own last day or later the search columns say where to look. For a day that
has gone by since, the dues that stood then are gathered again, so that what happened later
does not show. Either way nothing depends on a job having run.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

import msgspec
from sqlalchemy import Select, exists, or_, select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.loop.facts import Closed, Facts
from recall.loop.standing import Standing, standing
from recall.protocol.contact import LETTER_STEPS
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.facts.events import facts_for, facts_without_follow_up
from recall.records.ledger.stored import DUE_FIELDS
from recall.schedule.combine import group
from recall.schedule.plan import Due, FollowUp

_due: Any = tables.Due.__table__
_due_event: Any = tables.DueEvent.__table__
_follow_up: Any = tables.FollowUp.__table__
_link: Any = tables.FollowUpDue.__table__
_visit: Any = tables.Visit.__table__
_history: Any = tables.History.__table__
Which = Literal["next_step", "calls", "late", "all"]
NEVER_STOOD = ("entered_in_error",)


@dataclass(frozen=True)
class Stood:
    """A follow-up as it stood on a day."""

    person_id: int
    follow_up_id: int | None
    """None for what was answered before anybody was contacted about it."""
    version: int
    dues: tuple[Due, ...]
    facts: Facts
    standing: Standing
    is_confirmed: bool


def stood(
    desk: Desk,
    session: Session,
    which: Which = "all",
    known_at: datetime | None = None,
    steps_until: date | None = None,
) -> list[Stood]:
    """Return the follow-ups that stood on the desk's day.

    Args:
        desk: whose day it is.
        session: one that reads.
        which: those whose next step had come, the same without what the weekly letters do, those
            past their latest day, or all.
        known_at: an instant; what was recorded later is left out of what had happened.
        steps_until: for next steps, a day ahead by which they come.
    """
    if known_at is not None or _has_gone_by(desk, session):
        return _past(desk, session, known_at)
    return _present(desk, session, which, steps_until or desk.today)


def _has_gone_by(desk: Desk, session: Session) -> bool:
    """Say whether the register was changed on a later day than the desk's."""
    last = session.scalar(select(_history.c.at).order_by(_history.c.id.desc()).limit(1))
    return last is not None and desk.clock.day_of(last) > desk.today


def _present(desk: Desk, session: Session, which: Which, steps_until: date) -> list[Stood]:
    c = _follow_up.c
    wanted = select(c.id, c.person_id, c.version).where(c.is_open, c.void_at.is_(None))
    if which == "next_step":
        wanted = wanted.where(c.next_step_on <= steps_until)
    elif which == "calls":
        wanted = wanted.where(c.next_step_on <= desk.today, c.step.not_in(LETTER_STEPS))
    elif which == "late":
        wanted = wanted.where(c.latest < desk.today)
    return _from_rows(desk, session, wanted)


def stood_of(desk: Desk, session: Session, follow_up_ids: Sequence[int]) -> list[Stood]:
    """Return how some follow-ups stand now, in the order of the numbers; closed ones are out."""
    c = _follow_up.c
    wanted = select(c.id, c.person_id, c.version).where(c.is_open, c.void_at.is_(None))
    found = {
        each.follow_up_id: each
        for some in pages(follow_up_ids)
        for each in _from_rows(desk, session, wanted.where(c.id.in_(some)))
    }
    return [found[number] for number in follow_up_ids if number in found]


def _from_rows(desk: Desk, session: Session, wanted: Select[Any]) -> list[Stood]:
    """Return how the follow-ups stand that a statement gives with person and version."""
    found: list[Stood] = []
    rows = {row.id: row for row in session.execute(wanted.order_by(_follow_up.c.id))}
    for ids in pages(rows):
        facts, dues = facts_for(session, ids), _dues_of(session, ids)
        waits = _unconfirmed(session, [n for d in dues.values() for n, _ in d])
        for number in ids:
            held = dues.get(number, [])
            found.append(
                Stood(
                    person_id=rows[number].person_id,
                    follow_up_id=number,
                    version=rows[number].version,
                    dues=tuple(due for _number, due in held),
                    facts=facts[number],
                    standing=standing(facts[number], desk.today, desk.protocol.contact),
                    is_confirmed=waits.isdisjoint(n for n, _due in held),
                )
            )
    return found


def _dues_of(session: Session, follow_up_ids: Sequence[int]) -> dict[int, list[tuple[int, Due]]]:
    """Return the open dues that each follow-up holds, with their numbers."""
    wanted = (
        select(_link.c.follow_up_id, _due.c.id, *(_due.c[n] for n in DUE_FIELDS))
        .join_from(_link, _due, _link.c.due_id == _due.c.id)
        .where(_link.c.follow_up_id.in_(follow_up_ids), _link.c.left_at.is_(None), _due.c.is_open)
        .order_by(_due.c.id)
    )
    found: dict[int, list[tuple[int, Due]]] = defaultdict(list)
    for follow_up_id, number, *values in session.execute(wanted):
        found[follow_up_id].append((number, Due(**dict(zip(DUE_FIELDS, values, strict=True)))))
    return found


def _unconfirmed(session: Session, due_ids: Sequence[int]) -> set[int]:
    """Return the dues that a visit asked for which no clinician has confirmed."""
    found: set[int] = set()
    for some in pages(due_ids):
        wanted = (
            select(_due.c.id)
            .join_from(_due, _visit, _due.c.visit_id == _visit.c.id)
            .where(_due.c.id.in_(some), _visit.c.confirmed_at.is_(None))
        )
        found.update(session.scalars(wanted))
    return found


def _past(desk: Desk, session: Session, known_at: datetime | None) -> list[Stood]:
    """Gather the dues that stood then, group them as they were grouped, and ask the loop."""
    by_person: dict[int, list[tuple[int, Due]]] = defaultdict(list)
    for person_id, number, due in _dues_then(session, desk.today, known_at):
        by_person[person_id].append((number, due))
    found: list[Stood] = []
    for some in pages(sorted(by_person)):
        members = [pair for person_id in some for pair in by_person[person_id]]
        numbers = [number for number, _due in members]
        held = _holders(session, numbers)
        facts = _facts_then(session, set(held.values()), known_at)
        bare = facts_without_follow_up(session, some)
        waits = _unconfirmed(session, numbers)
        for person_id in some:
            found += _of_person(desk, person_id, by_person[person_id], held, facts, bare, waits)
    return found


def _of_person(
    desk: Desk,
    person_id: int,
    members: Sequence[tuple[int, Due]],
    held: dict[int, tuple[int, int]],
    facts: dict[int, Facts],
    bare: dict[int, Facts],
    waits: set[int],
) -> Iterable[Stood]:
    """Give one person's follow-ups as they stood, each with what had happened about it."""
    number_of = {id(due): number for number, due in members}
    for follow_up in group([due for _number, due in members]):
        numbers = [number_of[id(due)] for due in follow_up.dues]
        holders = [held[n] for n in numbers if n in held]
        known = _facts_of(follow_up, [facts[n] for n, _version in holders], bare[person_id])
        stands_then = standing(known, desk.today, desk.protocol.contact)
        if stands_then.word == "closed":
            continue
        yield Stood(
            person_id=person_id,
            follow_up_id=holders[0][0] if holders else None,
            version=holders[0][1] if holders else 0,
            dues=follow_up.dues,
            facts=known,
            standing=stands_then,
            is_confirmed=waits.isdisjoint(numbers),
        )


def _facts_of(follow_up: FollowUp, held: Sequence[Facts], bare: Facts) -> Facts:
    """Return the facts of a group: its own window, and what happened about its dues."""
    known = held[0] if held else bare
    return msgspec.structs.replace(
        known,
        asked_on=max(due.asked_on for due in follow_up.dues),
        earliest=follow_up.earliest,
        target=follow_up.target,
        latest=follow_up.latest,
        urgency=follow_up.urgency,
        events=tuple(e for e in known.events if not isinstance(e, Closed)),
    )


def _dues_then(
    session: Session, on: date, known_at: datetime | None
) -> Iterable[tuple[int, int, Due]]:
    """Give person, number and due of all that stood on a day, by what is known now.

    One that was dropped because its visit was corrected or voided never stood.
    """
    e = _due_event.c
    later = exists().where(
        e.due_id == _due.c.id,
        e.what == "closed",
        e.on > on,
        e.void_at.is_(None),
        e.reason.not_in(NEVER_STOOD),
        or_(e.reason != "superseded", e.visit_id.is_not(None)),
    )
    earlier = exists().where(
        e.due_id == _due.c.id, e.what == "closed", e.on <= on, e.void_at.is_(None)
    )
    wanted = select(_due.c.person_id, _due.c.id, *(_due.c[n] for n in DUE_FIELDS)).where(
        _due.c.asked_on <= on, stands(_due, known_at), or_(_due.c.is_open, later & ~earlier)
    )
    for person_id, number, *values in session.execute(wanted.order_by(_due.c.id)):
        yield person_id, number, Due(**dict(zip(DUE_FIELDS, values, strict=True)))


def _holders(session: Session, due_ids: Sequence[int]) -> dict[int, tuple[int, int]]:
    """Return the follow-up, with its version, that holds each due or held it last."""
    found: dict[int, tuple[int, int]] = {}
    for some in pages(due_ids):
        wanted = (
            select(_link.c.due_id, _follow_up.c.id, _follow_up.c.version)
            .join_from(_link, _follow_up, _link.c.follow_up_id == _follow_up.c.id)
            .where(_link.c.due_id.in_(some))
            .order_by(_link.c.id)
        )
        for due_id, number, version in session.execute(wanted):
            found[due_id] = (number, version)
    return found


def _facts_then(
    session: Session, holders: Iterable[tuple[int, int]], known_at: datetime | None
) -> dict[int, Facts]:
    found: dict[int, Facts] = {}
    for some in pages(sorted({number for number, _version in holders})):
        found |= facts_for(session, some, known_at)
    return found
