"""The person in hand: what a call list shows of one follow-up, beyond the line of a list.

The order of the list comes from the search columns alone, so that it costs the same whatever
the size of the register; each slip is then worked out from facts before it is shown, and one
that no longer belongs on the list is left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.person_header import Whom, whom
from recall.desk.core.person_lookup import person_row
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.lists import Line, line_of
from recall.desk.worklists.open_items import Appointment, appointments
from recall.desk.worklists.status_on import Stood, stood_of
from recall.loop.bookings import open_booking
from recall.loop.facts import BookingEnded, Contact, Facts, Posted, Returned
from recall.loop.outcomes import BY_ID
from recall.protocol.contact import LETTER_STEPS
from recall.records import tables

_follow_up: Any = tables.FollowUp.__table__
_person: Any = tables.Person.__table__
_staff: Any = tables.Staff.__table__
ATTEMPTS = 5
"""How many attempts are told, the last ones."""


@dataclass(frozen=True)
class Slip(Line):
    """One follow-up as whoever rings sees it."""

    given_names: str
    family_name: str
    earliest: date
    target: date
    offer_on: date | None
    """The open day to propose."""
    needs: tuple[str, ...]
    """Language, form of letters, and what helps."""
    attempts: tuple[str, ...]
    """What was tried, the last one first."""
    reach_id: int | None
    """The number that is shown, in the register."""
    booking_id: int | None
    appointment: Appointment | None
    """When what is booked is, and with whom."""
    claim_by: str
    """Who has the person in hand just now; empty where nobody has."""
    claim_until: datetime | None
    """Until when, in the practice's wall time."""

    @property
    def follow_up(self) -> int:
        """Return the follow-up's number: a slip always has one."""
        return self.follow_up_id or 0


@dataclass(frozen=True)
class ToReach:
    """How much there is to reach today, worked out from facts."""

    follow_ups: int
    people: int
    lost: int
    """Those for whom every contact step is used up: they are not to be rung."""


@needs(Right.LOOK)
def to_reach(desk: Desk) -> ToReach:
    """Return for how many follow-ups of how many people somebody is to be reached today."""
    by_person, lost = _by_person(desk)
    return ToReach(sum(map(len, by_person.values())), len(by_person), len(lost))


def _lost(desk: Desk, session: Session) -> set[int]:
    """Return those for whom every contact step is used up: the manager's, not to be rung."""
    c = _follow_up.c
    at_end = select(c.id).where(c.is_open, c.step == "decision", c.next_step_on <= desk.today)
    found = stood_of(desk, session, session.scalars(at_end).all())
    return {each.follow_up_id or 0 for each in found if each.standing.word == "lost"}


@needs(Right.LOOK)
def order(desk: Desk) -> tuple[int, ...]:
    """Return the follow-ups to reach today by number, the most pressing first.

    What is open for one person stands together, so that nobody is rung twice for two ears.
    """
    return tuple(number for numbers in _by_person(desk)[0].values() for number in numbers)


def _by_person(desk: Desk) -> tuple[dict[int, list[int]], set[int]]:
    """Return the follow-ups to reach today by person, the most pressing first; and the lost."""
    c = _follow_up.c
    wanted = (
        select(c.id, c.person_id)
        .where(c.is_open, c.next_step_on <= desk.today, c.step.not_in(LETTER_STEPS))
        .order_by(c.urgency_rank, c.latest, c.next_step_on, c.person_id, c.id)
    )
    by_person: dict[int, list[int]] = {}
    with desk.store.read() as session:
        lost = _lost(desk, session)
        for number, person_id in session.execute(wanted):
            if number not in lost:
                by_person.setdefault(person_id, []).append(number)
    return by_person, lost


@needs(Right.LOOK)
def slips(desk: Desk, follow_up_ids: Sequence[int]) -> tuple[Slip, ...]:
    """Return the slips of some follow-ups; one that is not to be reached today is left out."""
    with desk.store.read() as session:
        found = stood_of(desk, session, follow_up_ids)
        return _slips(desk, session, [each for each in found if each.standing.word == "to_contact"])


@needs(Right.LOOK)
def slips_of(desk: Desk, reference: str) -> tuple[Slip, ...]:
    """Return a slip for everything that is open for one person, whether it is due or not.

    Raises:
        NotFound: no person with this reference.
    """
    c = _follow_up.c
    with desk.store.read() as session:
        person_id = person_row(session, reference)["id"]
        wanted = select(c.id).where(c.person_id == person_id, c.is_open)
        ids = session.scalars(wanted.order_by(c.urgency_rank, c.latest, c.id)).all()
        return _slips(desk, session, stood_of(desk, session, ids))


def _slips(desk: Desk, session: Session, found: Sequence[Stood]) -> tuple[Slip, ...]:
    people = whom(session, [e.person_id for e in found], desk.today, desk.protocol.contact)
    rows = _rows(session, [each.follow_up_id for each in found if each.follow_up_id])
    made = appointments(session, [number for each in found if (number := _booked(desk, each))])
    return tuple(
        _slip(desk, each, people[each.person_id], rows[each.follow_up_id], made) for each in found
    )


def _booked(desk: Desk, found: Stood) -> int | None:
    """Return the number of the appointment that stands on the desk's day."""
    booked = open_booking([e for e in found.facts.events if e.on <= desk.today])
    return booked.booking if booked else None


def _rows(session: Session, ids: Sequence[int]) -> dict[int | None, Any]:
    """Return the columns that are no facts: who has it in hand, which day is offered."""
    c = _follow_up.c
    wanted = (
        select(
            *(c.id, c.offer_on, c.claim_until, _person.c.format, _person.c.needs),
            _staff.c.handle.label("claim_by"),
        )
        .join_from(_follow_up, _person, c.person_id == _person.c.id)
        .outerjoin(_staff, _staff.c.id == c.claim_by_id)
        .where(c.id.in_(ids))
    )
    return {row.id: row for row in session.execute(wanted)}


def _slip(desk: Desk, found: Stood, who: Whom, row: Any, made: dict[int, Appointment]) -> Slip:
    line = line_of(found, who, desk.today)
    booking = _booked(desk, found)
    is_claimed = row.claim_until is not None and row.claim_until > desk.now
    zone = ZoneInfo(desk.config.calendar.time_zone)
    numbers = [w.id for w in who.reach.ways if w.kind == "phone" and w.raw == who.number]
    return Slip(
        **{each.name: getattr(line, each.name) for each in fields(Line)},
        given_names=who.given_names,
        family_name=who.family_name,
        earliest=found.facts.earliest,
        target=found.facts.target,
        offer_on=row.offer_on,
        needs=tuple(_needs(who, row.format, desk.config.letters.languages[0])),
        attempts=tuple(attempts(found.facts, desk.today))[:ATTEMPTS],
        reach_id=numbers[0] if numbers else None,
        booking_id=booking,
        appointment=made.get(booking or 0),
        claim_by=(row.claim_by or "") if is_claimed else "",
        claim_until=row.claim_until.astimezone(zone) if is_claimed else None,
    )


def _needs(who: Whom, form: str, usual: str) -> Iterator[str]:
    if who.language and who.language != usual:
        yield f"language: {who.language}"
    if form != "standard":
        yield f"letters: {form}"


def attempts(facts: Facts, on: date) -> Iterator[str]:
    """Give in words what was tried, the last one first.

    >>> from recall.loop.facts import Posted
    >>> day = date(2026, 9, 1)
    >>> facts = Facts(asked_on=day, earliest=day, target=day, latest=day, urgency="low", born=day,
    ...               events=(Posted(on=day, kind="invitation"),))
    >>> list(attempts(facts, day))
    ['1 Sep 2026, letter: invitation']
    """
    for event in reversed([e for e in facts.events if e.on <= on]):
        if isinstance(event, Contact):
            who = "they reached us" if event.by_them else event.channel.replace("_", " ")
            yield f"{_day(event.on)}, {who}: {BY_ID[event.outcome].words.lower()}"
        elif isinstance(event, Posted):
            yield f"{_day(event.on)}, {event.by}: {event.kind.replace('_', ' ')}"
        elif isinstance(event, Returned):
            yield f"{_day(event.on)}: a letter came back"
        elif isinstance(event, BookingEnded):
            yield f"{_day(event.on)}, appointment: {event.how.replace('_', ' ')}"


def _day(day: date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
