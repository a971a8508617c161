"""Whom to contact on a day, for whoever works without the screens: what the call card knows too."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.person_header import person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.call_days import call_days
from recall.desk.worklists.call_notes import last_notes, still_to_tell
from recall.desk.worklists.day_list import WHOLE, Part, on_list
from recall.desk.worklists.lists import Line, line_of
from recall.desk.worklists.spoken_with import others_with, spoken_with
from recall.protocol.contact_steps import STEP
from recall.records.facts.cases import pages
from recall.records.tables import FollowUp, Staff


@dataclass(frozen=True)
class QueueLine(Line):
    """One follow-up of the queue, with what is to be known before one rings."""

    rings: bool
    """Whether somebody is to be rung, or asked for, at this step."""
    numbers: tuple[str, ...]
    """All numbers with whose each is, in the order to try."""
    to_tell: tuple[str, ...]
    """What was passed on for this person and is still to be told or done."""
    notes: tuple[str, ...]
    """What was written down last, the last one first."""
    spoken: str
    """The last call of the day to whoever is asked for, about another; empty without one."""
    claim: str
    """Who has the person in hand and until when; empty where nobody has."""


@needs(Right.LOOK)
def queue_lines(
    desk: Desk, part: Part = WHOLE, *, letters: bool = False, clinical: bool = False
) -> tuple[QueueLine, ...]:
    """Return whom reception is to contact, one line a person, the most pressing first.

    Args:
        desk: whose day it is.
        part: which part of the list.
        letters: show the steps that the weekly letters do as well.
        clinical: say what was found.
    """
    with desk.store.read() as session:
        only_shown(desk, session)
        found = on_list(desk, session, "reach_or_write" if letters else "reach", part)
        people_ids = [each.person_id for each in found]
        people = person_headers(session, people_ids, desk.today, desk.protocol.contact)
        notes, tell = last_notes(session, people_ids), still_to_tell(session, people_ids)
        by = {} if part.known_at else call_days(desk, session, found)
        headers = list(people.values())
        spoken = spoken_with(desk, session, headers, others_with(session, headers))
        claims = _claims(desk, session, [e.follow_up_id for e in found if e.follow_up_id])
    lines = []
    for each in found:
        who = people[each.person_id]
        line = line_of(each, who, desk.today, clinical)
        if (day := by.get(each.follow_up_id or 0, line.latest)) < line.latest:
            line = replace(line, latest=day, late_by_days=max(0, (desk.today - day).days))
        lines.append(
            QueueLine(
                **{one.name: getattr(line, one.name) for one in fields(Line)},
                rings=rings_at(line.step),
                numbers=tuple(number.said for number in who.numbers),
                to_tell=tell.get(each.person_id, ()),
                notes=notes.get(each.person_id, ()),
                spoken=told.words if (told := spoken.get(each.person_id)) else "",
                claim=claims.get(each.follow_up_id or 0, ""),
            )
        )
    return tuple(lines)


def rings_at(step: str) -> bool:
    """Return whether anybody is asked for at a step: who came is not, nor who was to come.

    >>> rings_at("phone"), rings_at("record_attendance"), rings_at("type_visit")
    (True, False, False)
    """
    return step not in STEP or STEP[step].done_as not in ("attendance", "visit")


def _claims(desk: Desk, session: Session, ids: list[int]) -> dict[int, str]:
    """Return who has each of some follow-ups in hand just now, until when."""
    f, found = FollowUp, dict[int, str]()
    zone = ZoneInfo(desk.config.calendar.time_zone)
    wanted = select(f.id, f.claim_until, Staff.handle).join(Staff, Staff.id == f.claim_by_id)
    for some in pages(ids):
        held = wanted.where(f.id.in_(some), f.claim_until > desk.now)
        for number, until, handle in session.execute(held):
            assert until is not None
            found[number] = f"{handle} until {until.astimezone(zone):%H:%M}"
    return found
