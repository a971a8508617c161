"""Letters that are no step of a contact run: an appointment confirmed, a young person's contact."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from recall.care.dates import ADULT_FROM
from recall.desk.core.session import Desk
from recall.desk.post.choosing import Chosen
from recall.desk.worklists.day_list import statuses_of
from recall.loop.addressee import own_contact_asked
from recall.records import tables
from recall.records.facts.candidates import of_sites
from recall.records.facts.cases import stands
from recall.records.people.addresses import reachable

CONFIRMATION, OWN_CONTACT = "booking_confirmation", "own_contact"
AHEAD = timedelta(days=4)
"""Common practice: a confirmation by post takes so long, and a later one comes too late."""
_MONTH = timedelta(days=31)


def occasions(desk: Desk, session: Session) -> Iterator[Chosen]:
    """Give what is written today beside the steps of the contact runs."""
    yield from _confirmations(desk, session)
    yield from _young_people(desk, session)


def _confirmations(desk: Desk, session: Session) -> Iterator[Chosen]:
    """Give the appointments ahead that no letter has confirmed."""
    over = exists().where(
        tables.BookingEvent.booking_id == tables.Booking.id, stands(tables.BookingEvent)
    )
    told = exists().where(
        tables.Letter.follow_up_id == tables.Booking.follow_up_id,
        tables.Letter.step == CONFIRMATION,
        tables.Letter.round == tables.Booking.id,
        stands(tables.Letter),
    )
    b = tables.Booking
    wanted = (
        select(b.id, b.starts_local, b.follow_up_id)
        .where(b.starts_local >= desk.today + AHEAD, stands(tables.Booking), ~over, ~told)
        .where(b.follow_up_id.is_not(None), *of_sites(session, b.person_id))
        .order_by(b.starts_local, b.id)
    )
    rows = session.execute(wanted).all()
    ids = [follow_up_id for _number, _starts, follow_up_id in rows if follow_up_id is not None]
    found = {s.follow_up_id: s for s in statuses_of(desk, session, ids)}
    for number, starts, follow_up_id in rows:
        if follow_up_id is not None and follow_up_id in found:
            yield Chosen(
                found[follow_up_id], follow_up_id, CONFIRMATION, number, starts_local=starts
            )


def _young_people(desk: Desk, session: Session) -> Iterator[Chosen]:
    """Give the young people whose own contact is to be asked for, once each."""
    born_from, born_by = _born_between(desk)
    told = exists().where(
        tables.Letter.person_id == tables.Person.id,
        tables.Letter.step == OWN_CONTACT,
        stands(tables.Letter),
    )
    wanted = (
        select(tables.Person.id, tables.FollowUp.id)
        .join_from(tables.Person, tables.FollowUp, tables.FollowUp.person_id == tables.Person.id)
        .where(tables.Person.born.between(born_from, born_by), tables.FollowUp.is_open)
        .where(stands(tables.Person), stands(tables.FollowUp), ~told)
        .where(*of_sites(session, tables.Person.id))
        .order_by(tables.Person.id, tables.FollowUp.id)
    )
    first: dict[int, int] = {}
    for person_id, follow_up_id in session.execute(wanted):
        first.setdefault(person_id, follow_up_id)
    known = reachable(session, list(first), desk.today)
    rules = desk.protocol.contact
    asked = [
        follow_up_id
        for person_id, follow_up_id in first.items()
        if own_contact_asked(known[person_id].person, desk.today, rules)
    ]
    for found in statuses_of(desk, session, asked):
        assert found.follow_up_id is not None, "it was looked up by its number"
        yield Chosen(found, found.follow_up_id, OWN_CONTACT, 1)


def _born_between(desk: Desk) -> tuple[date, date]:
    """Return birth dates of those not yet 16 who may be asked about: the loop decides."""
    rules = desk.protocol.contact
    ahead = rules.span(rules.own_contact_asked).after(desk.today)
    return (
        desk.today.replace(day=1, year=desk.today.year - ADULT_FROM),
        ahead.replace(day=1, year=ahead.year - ADULT_FROM) + 2 * _MONTH,
    )
