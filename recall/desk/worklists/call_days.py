"""The day by which a call is about something: the earliest of all that it is about."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.desk.worklists.status_on import FollowUpStatus, has_gone_by, then_once
from recall.loop.facts import Facts
from recall.loop.reach import latest_of_calls
from recall.records.facts.cases import pages
from recall.records.facts.events import facts_for
from recall.records.facts.sooner import sooner
from recall.records.tables import FollowUp
from recall.records.tables.statements import IDS, many_now

_OPEN_OF_PEOPLE = select(FollowUp.id, FollowUp.person_id).where(
    FollowUp.person_id.in_(IDS), FollowUp.is_open, FollowUp.void_at.is_(None)
)


def call_days(desk: Desk, session: Session, found: Sequence[FollowUpStatus]) -> dict[int, date]:
    """Return the latest day of a call about each of some follow-ups, by the follow-up's number."""
    if has_gone_by(desk, session):
        by = days_then(then_once(desk, session), desk)
    else:
        by = _days_of(desk, session, found)
    return {
        number: min(each.facts.latest, by.get(each.person_id, each.facts.latest))
        for each in found
        if (number := each.follow_up_id)
    }


def days_then(then: Iterable[FollowUpStatus], desk: Desk) -> dict[int, date]:
    """Return the same of a day that has gone by, by person, from all that stood open then."""
    known = ((each.person_id, each.facts) for each in then)
    return latest_of_calls(known, desk.today, desk.protocol.contact)


def sooner_days(desk: Desk, session: Session) -> dict[int, date]:
    """Return the same by person for whoever may be on the day's list, as the register stands.

    Those are left out for whom nothing is sooner than what the list has of them.
    """
    rules, today = desk.protocol.contact, desk.today
    reach = rules.span(rules.join_within).after(today)
    by, doubtful = sooner(session, today, reach, rules.live_from())
    if doubtful:
        facts = _facts(session, sorted(doubtful))
        known = ((doubtful[number], each) for number, each in facts.items())
        for person, day in latest_of_calls(known, today, rules).items():
            by[person] = min(day, by.get(person, day))
    return by


def _days_of(desk: Desk, session: Session, found: Sequence[FollowUpStatus]) -> dict[int, date]:
    """Return the same of the people of some; nothing of those for whom one thing is open."""
    read = {each.follow_up_id: each.facts for each in found}
    numbers: dict[int, list[int]] = {}
    for some in pages(sorted({each.person_id for each in found})):
        for number, person in many_now(session, _OPEN_OF_PEOPLE, some):
            numbers.setdefault(person, []).append(number)
    several = {n: who for who, held in numbers.items() if len(held) > 1 for n in held}
    more = _facts(session, sorted(several.keys() - read.keys()))
    known = ((who, read[n] if n in read else more[n]) for n, who in several.items())
    return latest_of_calls(known, desk.today, desk.protocol.contact)


def _facts(session: Session, numbers: Sequence[int]) -> dict[int, Facts]:
    found: dict[int, Facts] = {}
    for some in pages(numbers):
        found.update(facts_for(session, some))
    return found
