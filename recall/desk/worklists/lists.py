"""The lists of follow-ups: whom to contact, who is overdue, who is lost.

Each is a view of the day's list, in its order. Nothing clinical is in a row unless it is asked
for: lists lie about on desks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.person_header import PersonHeader, person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.day_list import WHOLE, Part, on_list
from recall.desk.worklists.status_on import NOT_CONFIRMED, FollowUpStatus
from recall.loop.booking_rules import open_booking
from recall.loop.day import View
from recall.loop.facts import Contact, Event, Facts, Posted
from recall.loop.outcomes import BY_ID
from recall.schedule.calendar import say_day


@dataclass(frozen=True)
class Line:
    """One follow-up on a list."""

    urgency: str
    reference: str
    name: str
    born: date
    postcode: str
    ask_for: str
    number: str
    why: str
    """As it may be said aloud."""
    step: str
    next_step_on: date | None
    next: str
    latest: date
    late_by_days: int
    status: str
    booked_on: date | None
    tried: str
    contact_stopped: str | None
    """Why nobody may ring or write about this; None where somebody may."""
    warnings: tuple[str, ...]
    clinical: str
    """What was found and by which rule; empty unless asked for."""
    follow_up_id: int | None
    version: int
    person_id: int


@needs(Right.LOOK)
def for_clinician(desk: Desk, part: Part = WHOLE, *, clinical: bool = False) -> tuple[Line, ...]:
    """Return who waits for a clinician: to be rung, decided on or looked at before letters go."""
    return _lines(desk, "clinician", part, clinical)


@needs(Right.LOOK)
def overdue(desk: Desk, part: Part = WHOLE, *, clinical: bool = False) -> tuple[Line, ...]:
    """Return everybody open past the latest day, booked or not, the most pressing first."""
    return _lines(desk, "overdue", part, clinical)


@needs(Right.LOOK)
def lost(desk: Desk, part: Part = WHOLE, *, clinical: bool = False) -> tuple[Line, ...]:
    """Return those for whom every contact step is used up: a named decision is awaited."""
    return _lines(desk, "lost", part, clinical)


def _lines(desk: Desk, view: View, part: Part, clinical: bool) -> tuple[Line, ...]:
    with desk.store.read() as session:
        only_shown(desk, session)
        shown = on_list(desk, session, view, part)
        people = person_headers(
            session, [s.person_id for s in shown], desk.today, desk.protocol.contact
        )
    return tuple(line_of(s, people[s.person_id], desk.today, clinical) for s in shown)


def line_of(found: FollowUpStatus, who: PersonHeader, on: date, clinical: bool = False) -> Line:
    """Return one follow-up as the lists show it."""
    step, booked = found.status.step, open_booking(_until(found.facts, on))
    waits = () if found.is_confirmed else (NOT_CONFIRMED,)
    return Line(
        urgency=found.status.urgency,
        reference=who.reference,
        name=who.name,
        born=who.born,
        postcode=who.postcode,
        ask_for=who.ask_for,
        number=who.number,
        why=why_aloud(found),
        step=step.kind if step else "",
        next_step_on=found.status.next_step_on,
        next=found.status.why,
        latest=found.facts.latest,
        late_by_days=found.status.late_by_days,
        status=found.status.word,
        booked_on=booked.day if booked else None,
        tried=tried(found.facts, on),
        contact_stopped=who.contact_stopped,
        warnings=(*who.warnings, *waits),
        clinical=_clinical(found) if clinical else "",
        follow_up_id=found.follow_up_id,
        version=found.version,
        person_id=found.person_id,
    )


def why_aloud(found: FollowUpStatus) -> str:
    """Return why the person is asked to come, as it may be said aloud."""
    said = dict.fromkeys(due.says_aloud for due in found.dues if due.says_aloud)
    return " ".join(said) or "It is time for another visit."


def tried(facts: Facts, on: date) -> str:
    """Return in words how often and how it was tried to reach the person.

    >>> from recall.loop.facts import Posted
    >>> day = date(2026, 9, 1)
    >>> facts = Facts(asked_on=day, earliest=day, target=day, latest=day, urgency="low", born=day,
    ...               events=(Posted(on=day, kind="invitation"),))
    >>> tried(facts, day)
    '1 letter; last on 1 September 2026: letter'
    """
    events = _until(facts, on)
    posted = [e for e in events if isinstance(e, Posted)]
    calls = [e for e in events if isinstance(e, Contact) and not e.by_them]
    if not posted and not calls:
        return ""
    told = [_times(len(posted), "letter"), _times(len(calls), "call")]
    ways = [e for e in events if e in posted or e in calls]
    last = max(reversed(ways), key=lambda e: e.on)
    what = "letter" if isinstance(last, Posted) else BY_ID[last.outcome].words.lower()
    late = sum(each.is_late for each in ways)
    entered = f"; {late} entered late" if late else ""
    return f"{', '.join(filter(None, told))}; last on {say_day(last.on)}: {what}{entered}"


def _times(count: int, what: str) -> str:
    return f"{count} {what}{'s' * (count > 1)}" if count else ""


def _until(facts: Facts, on: date) -> Sequence[Event]:
    return [event for event in facts.events if event.on <= on]


def _clinical(found: FollowUpStatus) -> str:
    return " ".join(
        f"{due.ear.capitalize()} ear, {due.track.replace('_', ' ')}: {due.says} "
        f"({due.rule}; {due.source})"
        for due in found.dues
    )
