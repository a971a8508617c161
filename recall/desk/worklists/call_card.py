"""The call card: what the call list shows of one follow-up, beyond the line of a list.

The order is the day's list. Each card is worked out from facts before it is shown, and one that
no longer belongs on the list is left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.looking import looks
from recall.desk.core.narrowing import only_shown
from recall.desk.core.numbers import NumberToRing
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.person_lookup import person_id
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.call_days import call_days
from recall.desk.worklists.call_notes import last_notes, still_to_tell
from recall.desk.worklists.day_list import in_order, row_of, statuses_of, to_ring_on
from recall.desk.worklists.lists import Line, line_of
from recall.desk.worklists.open_items import (
    Appointment,
    LooseAppointment,
    appointments,
    appointments_from,
)
from recall.desk.worklists.proposed_days import Wanted, proposed_days
from recall.desk.worklists.spoken_with import (
    Holders,
    Spoken,
    asked_for_too,
    others_with,
    spoken_with,
)
from recall.desk.worklists.status_on import FollowUpStatus
from recall.loop.booking_rules import open_booking
from recall.loop.day import belongs
from recall.loop.facts import BookingEnded, Contact, Facts, Posted, Returned
from recall.loop.outcomes import BY_ID
from recall.loop.rundates import is_at_home
from recall.loop.trail import read_trail
from recall.protocol.contact_steps import STEP
from recall.records.facts.cases import pages
from recall.records.tables import FollowUp, Person, Staff
from recall.records.tables.statements import IDS, many_now

LEFT_FOR = timedelta(days=14)
"""So long a message that was left is told beside whoever else is rung on that number."""
ATTEMPTS = 5
"""How many attempts are told, the last ones."""


@dataclass(frozen=True)
class CallCard(Line):
    """One follow-up as whoever rings sees it."""

    given_names: str
    family_name: str
    do: tuple[str, ...]
    """What is to be done."""
    earliest: date
    target: date
    call_by: date
    """The earliest latest day of all that the call is about; `latest` is of this one alone."""
    offer_on: date | None
    """The open day to propose: inside the window, where it keeps the days most even."""
    needs: tuple[str, ...]
    """Language, form of letters, and what helps."""
    attempts: tuple[str, ...]
    """What was tried, the last one first."""
    numbers: tuple[NumberToRing, ...]
    """All numbers in the order to try; the first is the one that is shown."""
    hour: time | None
    """The hour of its day before which it is not done."""
    promised: bool
    """The hour was promised."""
    at_home: bool
    """They are to be booked, and are not at the practice: they are rung."""
    booking_id: int | None
    appointment: Appointment | None
    """When what is booked is, and with whom."""
    comes: tuple[Appointment, ...]
    """What else the person is booked for, from today on: seen before one rings."""
    notes: tuple[str, ...]
    """What was written down last about the person, the last one first: seen before one rings."""
    to_tell: tuple[str, ...]
    """Answers that were passed on for them and are still to be told."""
    spoken: Spoken | None
    """The last call of the day to whoever is asked for, about another."""
    claim_by: str
    """Who has the person in hand just now; empty where nobody has."""
    claim_until: datetime | None
    """Until when, in the practice's wall time."""

    @property
    def contact_point_id(self) -> int | None:
        """Return the number that is shown, by its place in the register."""
        return self.numbers[0].contact_point_id if self.numbers else None

    @property
    def follow_up(self) -> int:
        """Return the follow-up's number: a card always has one."""
        return self.follow_up_id or 0


@needs(Right.LOOK)
def order(desk: Desk) -> tuple[int, ...]:
    """Return whom reception is to reach today, each by the number of what is most pressing."""
    with desk.store.read() as session:
        only_shown(desk, session)
        parts = to_ring_on(desk, session)
    return tuple(place[4] for part in parts for place in part if place[4])


@needs(Right.LOOK)
def call_cards(
    desk: Desk,
    follow_up_ids: Sequence[int],
    on_the_line: int | None = None,
    *,
    in_turn: bool = False,
) -> tuple[CallCard, ...]:
    """Return the cards of some follow-ups; one that is not reception's today is left out.

    Whoever is `on_the_line` stays there, whoever is to see to them next. For a list that stays
    as it is the days to propose are given `in_turn`.
    """
    with desk.store.read() as session:
        found = statuses_of(desk, session, follow_up_ids)
        mine = [e for e in found if e.follow_up_id == on_the_line or _is_receptions(e, desk.today)]
        still_open = [e for e in mine if e.status.word != "closed"]
        return _cards(desk, session, still_open, in_turn=in_turn)


def _is_receptions(found: FollowUpStatus, on: date) -> bool:
    return belongs(row_of(found), on, "reach")


@needs(Right.LOOK)
@looks
def call_cards_of(desk: Desk, reference: str) -> tuple[CallCard, ...]:
    """Return a card for everything that is open for one person, whether it is due or not.

    Raises:
        NotFound: no person with this reference.
    """
    with desk.store.read() as session:
        mine = FollowUp.person_id == person_id(session, reference)
        ids = session.scalars(select(FollowUp.id).where(mine, FollowUp.is_open)).all()
        found = in_order(statuses_of(desk, session, ids), desk.today, "open")
        return _cards(desk, session, found)


@dataclass(frozen=True)
class _CardRow:
    """What is no fact of a follow-up: who has it in hand, which day is offered."""

    offer_on: date | None
    claim_until: datetime | None
    format: str
    claim_by: str
    do: tuple[str, ...]
    site: str


@dataclass(frozen=True)
class _Beside:
    """What stands beside all cards that are read together."""

    booked: dict[int, Appointment]
    comes: dict[int, list[LooseAppointment]]
    notes: dict[int, tuple[str, ...]]
    to_tell: dict[int, tuple[str, ...]]
    others: Holders
    spoken: dict[int, Spoken]
    proposed: dict[int, date]
    call_by: dict[int, date]


# Each statement is made once: making one takes longer than asking it does.
_OF_CARDS = (
    select(
        *(FollowUp.id, FollowUp.offer_on, FollowUp.claim_until, Person.format),
        *(FollowUp.do, Person.site),
        func.coalesce(Staff.handle, "").label("claim_by"),
    )
    .join_from(FollowUp, Person, FollowUp.person_id == Person.id)
    .outerjoin(Staff, Staff.id == FollowUp.claim_by_id)
    .where(FollowUp.id.in_(IDS))
)


def _cards(
    desk: Desk, session: Session, found: Sequence[FollowUpStatus], *, in_turn: bool = False
) -> tuple[CallCard, ...]:
    people = person_headers(
        session, [e.person_id for e in found], desk.today, desk.protocol.contact
    )
    card = _card_rows(session, [each.follow_up_id for each in found if each.follow_up_id])
    headers = list(people.values())
    others = others_with(session, headers)
    made = appointments(session, [number for each in found if (number := _booked(desk, each))])
    ids = [each.person_id for each in found]
    together = {who.person_id: asked_for_too(who, others) for who in headers}
    noted = last_notes(session, ids, together, desk.today - LEFT_FOR)
    tell = still_to_tell(session, ids)
    wanted = _wanted(desk, found, card)
    offers = proposed_days(desk, session, wanted, in_turn=in_turn)
    spoken = spoken_with(desk, session, headers, others)
    days = call_days(desk, session, found)
    comes = appointments_from(session, ids, desk.today)
    beside = _Beside(made, comes, noted, tell, others, spoken, offers, days)
    return tuple(
        _card(desk, each, people[each.person_id], card[each.follow_up_id], beside)
        for each in found
        if each.follow_up_id
    )


def _wanted(desk: Desk, found: Sequence[FollowUpStatus], card: dict[int, _CardRow]) -> list[Wanted]:
    """Return what is not booked, for each of which a day is to be proposed."""
    free = [each for each in found if each.follow_up_id and not _booked(desk, each)]
    rows = ((each, card[each.follow_up_id or 0]) for each in free)
    return [
        Wanted(each.follow_up_id or 0, each.facts, frozenset(row.do), row.site)
        for each, row in rows
    ]


def _booked(desk: Desk, found: FollowUpStatus) -> int | None:
    """Return the number of the appointment that stands on the desk's day."""
    booked = open_booking([e for e in found.facts.events if e.on <= desk.today])
    return booked.booking if booked else None


def _card_rows(session: Session, ids: Sequence[int]) -> dict[int, _CardRow]:
    found: dict[int, _CardRow] = {}
    for some in pages(ids):
        for row in many_now(session, _OF_CARDS, some):
            found[row.id] = _CardRow(
                row.offer_on, row.claim_until, row.format, row.claim_by, row.do, row.site
            )
    return found


def _card(
    desk: Desk,
    found: FollowUpStatus,
    who: PersonHeader,
    card: _CardRow,
    beside: _Beside,
) -> CallCard:
    line = line_of(found, who, desk.today)
    booking = _booked(desk, found)
    until = card.claim_until if card.claim_until and card.claim_until > desk.now else None
    zone = ZoneInfo(desk.config.calendar.time_zone)
    return CallCard(
        **{each.name: getattr(line, each.name) for each in fields(Line)},
        given_names=who.given_names,
        family_name=who.family_name,
        do=card.do,
        earliest=found.facts.earliest,
        target=found.facts.target,
        call_by=beside.call_by.get(found.follow_up_id or 0, line.latest),
        offer_on=beside.proposed.get(found.follow_up_id or 0, card.offer_on),
        needs=tuple(_needs(who, card.format, desk.config.letters.languages[0])),
        attempts=tuple(attempts(found.facts, desk.today))[:ATTEMPTS],
        numbers=tuple(
            replace(n, others=beside.others.besides(n.value, who.person_id)) for n in who.numbers
        ),
        notes=beside.notes.get(found.person_id, ()),
        to_tell=beside.to_tell.get(found.person_id, ()),
        spoken=beside.spoken.get(found.person_id),
        hour=found.status.step.at if found.status.step else None,
        promised=found.status.step is not None and found.status.step.promised,
        at_home=_is_at_home(found, desk.today),
        booking_id=booking,
        appointment=beside.booked.get(booking or 0),
        comes=tuple(e for e in beside.comes.get(found.person_id, ()) if e.id != booking),
        claim_by=card.claim_by if until else "",
        claim_until=until.astimezone(zone) if until else None,
    )


def _is_at_home(found: FollowUpStatus, on: date) -> bool:
    step = found.status.step
    return (
        step is not None
        and bool(STEP[step.kind].at_home)
        and is_at_home(step.kind, found.facts, read_trail(found.facts, on))
    )


def _needs(who: PersonHeader, form: str, usual: str) -> Iterator[str]:
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
            late = f" (entered {_day(event.entered_on)})" if event.is_late else ""
            yield f"{_day(event.on)}, {who}: {BY_ID[event.outcome].words.lower()}{late}"
        elif isinstance(event, Posted):
            yield f"{_day(event.on)}, {event.by}: {event.kind.replace('_', ' ')}"
        elif isinstance(event, Returned):
            yield f"{_day(event.on)}: a letter came back"
        elif isinstance(event, BookingEnded):
            yield f"{_day(event.on)}, appointment: {event.how.replace('_', ' ')}"


def _day(day: date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
