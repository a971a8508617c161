"""Whoever rings back: rung today by us, when, by whom, about what; found by name or number."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from sqlalchemy import ColumnElement, and_, exists, select
from sqlalchemy.orm import Session, aliased

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.loop.outcomes import BY_ID
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.people.finding import Found, find, known

PROMISED = ("will_call_back", "call_again_on")
"""Outcomes by which another call was agreed."""
USUAL = "It is time for another visit."


@dataclass(frozen=True, slots=True)
class Rung:
    """One attempt of today, ours, to reach somebody."""

    person_id: int
    at: str
    """The practice's wall time, as 10:42."""
    by: str
    how: str
    """What came of it."""
    about: str
    """As it may be said aloud."""
    note: str

    @property
    def words(self) -> str:
        """Return it in one sentence, what it was about at the end."""
        note = f" ({self.note})" if self.note else ""
        return f"Rung today at {self.at} by {self.by}: {self.how}{note}. About: {self.about}"


@dataclass(frozen=True, slots=True)
class MayRing:
    """Somebody who was found, and when they were rung today; empty where they were not."""

    found: Found
    rung_at: str


@needs(Right.LOOK)
def who_rings(desk: Desk, text: str, limit: int) -> tuple[MayRing, ...]:
    """Return who fits a text, those first who were rung today; without a text those alone."""
    with desk.store.read() as session:
        at: dict[int, str] = {}
        for each in rung_today(desk, session):
            at.setdefault(each.person_id, each.at)
        if not text.strip():
            people = known(session, list(at))
            return tuple(MayRing(people[n], at[n]) for n in at if n in people)[:limit]
        found = find(session, text, limit)
    first = sorted(found, key=lambda each: each.id not in at)
    return tuple(MayRing(each, at.get(each.id, "")) for each in first)


def rung_today(desk: Desk, session: Session, person_id: int | None = None) -> tuple[Rung, ...]:
    """Return whom we tried to reach today, the last one first; of one person where given.

    Of one person what was promised is left out once it was booked.
    """
    c, s = tables.Contact, tables.Staff
    whose = [] if person_id is None else [c.person_id == person_id, ~_booked_since()]
    wanted = (
        select(c.person_id, c.recorded_at, s.handle, c.outcome, c.note, c.id, c.follow_up_id)
        .join_from(c, s, c.by_id == s.id)
        .where(c.on == desk.today, ~c.by_them, stands(c), *whose)
        .order_by(c.id.desc())
    )
    rows = session.execute(wanted).all()
    about = _about(session, {call: number for *_, call, number in rows if number is not None})
    zone = ZoneInfo(desk.config.calendar.time_zone)
    words = {str(key): outcome.words.lower() for key, outcome in BY_ID.items()}
    return tuple(
        Rung(
            person,
            f"{at.astimezone(zone):%H:%M}",
            by,
            words.get(outcome, outcome),
            about.get(call, USUAL),
            note,
        )
        for person, at, by, outcome, note, call, _number in rows
    )


def _booked_since() -> ColumnElement[bool]:
    """Return the condition that a call was promised, and an appointment made of it since."""
    c, since = tables.Contact, aliased(tables.Contact)
    same = since.follow_up_id == c.follow_up_id, since.id > c.id
    booked = exists().where(*same, since.outcome == "booked", stands(since))
    return and_(c.outcome.in_(PROMISED), booked)


def _about(session: Session, calls: dict[int, int]) -> dict[int, str]:
    """Return what may be said aloud of everything that some calls were about."""
    also = tables.AlsoAbout
    beside = select(also.contact_id, also.follow_up_id).where(
        also.contact_id.in_(list(calls)), stands(also)
    )
    held = {call: [number] for call, number in calls.items()}
    for call, number in session.execute(beside):
        if call is not None:
            held[call].append(number)
    aloud: dict[int, list[str]] = {}
    for number, words in _said(session, {each for some in held.values() for each in some}):
        aloud.setdefault(number, []).append(words)
    said = {
        call: dict.fromkeys(words for number in some for words in aloud.get(number, ()))
        for call, some in held.items()
    }
    return {call: " ".join(words) for call, words in said.items() if words}


def _said(session: Session, follow_ups: set[int]) -> list[tuple[int, str]]:
    held, due = tables.FollowUpDue, tables.Due
    wanted = (
        select(held.follow_up_id, due.says_aloud)
        .join_from(held, due, held.due_id == due.id)
        .where(held.follow_up_id.in_(follow_ups), held.left_at.is_(None), due.says_aloud != "")
        .order_by(due.latest, due.id)
    )
    return [(number, words) for number, words in session.execute(wanted)]
