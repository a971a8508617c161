"""The day by which a call is about something: the earliest of all that it is about."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.desk.worklists.status_on import FollowUpStatus, has_gone_by, statuses_then
from recall.loop.facts import Facts
from recall.loop.reach import latest_of_call
from recall.records.facts.cases import pages
from recall.records.facts.events import facts_for
from recall.records.tables import FollowUp
from recall.records.tables.statements import IDS, many_now

_OPEN_OF_PEOPLE = select(FollowUp.id, FollowUp.person_id).where(
    FollowUp.person_id.in_(IDS), FollowUp.is_open, FollowUp.void_at.is_(None)
)


def call_days(desk: Desk, session: Session, found: Sequence[FollowUpStatus]) -> dict[int, date]:
    """Return the latest day of a call about each of some follow-ups, by the follow-up's number."""
    if has_gone_by(desk, session):
        beside = _then(desk, session)
    else:
        beside = _now(session, sorted({each.person_id for each in found}))
    rules = desk.protocol.contact
    return {
        number: latest_of_call(each.facts, beside[each.person_id], desk.today, rules)
        for each in found
        if (number := each.follow_up_id)
    }


def _then(desk: Desk, session: Session) -> dict[int, list[Facts]]:
    """Return all that stood open on a day that has gone by, by person."""
    beside: dict[int, list[Facts]] = defaultdict(list)
    for each in statuses_then(desk, session):
        beside[each.person_id].append(each.facts)
    return beside


def _now(session: Session, people: Sequence[int]) -> dict[int, list[Facts]]:
    """Return all that is open, by person; nothing of those for whom one thing is."""
    numbers: dict[int, list[int]] = defaultdict(list)
    for some in pages(people):
        for number, person in many_now(session, _OPEN_OF_PEOPLE, some):
            numbers[person].append(number)
    several = {person: held for person, held in numbers.items() if len(held) > 1}
    beside: dict[int, list[Facts]] = defaultdict(list)
    for some in pages([number for held in several.values() for number in held]):
        facts = facts_for(session, some)
        for person, held in several.items():
            beside[person] += [facts[number] for number in held if number in facts]
    return beside
