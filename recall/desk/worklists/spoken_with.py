"""Who was spoken with today on whose number, and about whom: told before it is rung once more.

A call is to whoever answers: somebody who was spoken with about one child is not to be rung about
another as if nobody had spoken. Told from the calls of the day alone, and only about others than
the person themselves: what was tried for them stands beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time
from typing import NamedTuple
from zoneinfo import ZoneInfo

from sqlalchemy import Date, bindparam, func, select
from sqlalchemy.orm import Session

from recall.desk.core.first_numbers import folded
from recall.desk.core.person_header import PersonHeader, person_headers, speakers_of
from recall.desk.core.session import Desk
from recall.loop.outcomes import CALLS, OUTCOMES
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.people.addresses import reachable
from recall.records.tables.statements import IDS, REFS, given, many_now


class Holders(NamedTuple):
    """Who has some numbers."""

    of: dict[str, dict[int, set[str]]]
    """By the value of a number: who has it, with the folded names of those who answer on it."""
    names: dict[int, str]
    """Of everybody who has one, by person."""

    def besides(self, value: str, person_id: int) -> tuple[str, ...]:
        """Return the names of everybody else who has a number."""
        return tuple(self.names[one] for one in self.of.get(value, ()) if one != person_id)


NOBODY = ("no_answer", "somebody_else_answered", "identity_not_confirmed")
"""Outcomes of a number that was rung without anybody being spoken with."""
_OUTCOME = {str(each.id): each for each in OUTCOMES}
_TOLD = (*NOBODY, *(str(each.id) for each in OUTCOMES if each.reached))


@dataclass(frozen=True)
class Spoken:
    """One call of the day about somebody else under the same number, or with the same adult."""

    at: time
    """On the practice's wall clock."""
    whom: str
    """Who was spoken with; empty where it is not known."""
    about: str
    """The name of the person whom it was about."""
    came: str
    """What came of it, in short words."""
    reached: bool
    """Whether anybody was spoken with; else the number was only rung."""

    @property
    def words(self) -> str:
        """Return it in words.

        >>> Spoken(time(9, 12), "Ms Ida Vale", "Tom Vale", "will call back", True).words
        'Spoke with Ms Ida Vale at 9:12 about Tom Vale: will call back'
        """
        about = f"about {self.about}: {self.came}"
        if not self.reached:
            return f"Rung at {self.hour} {about}"
        return f"Spoke with {self.whom or 'whoever answered'} at {self.hour} {about}"

    @property
    def hour(self) -> str:
        """Return the hour without a zero before it."""
        return f"{self.at.hour}:{self.at:%M}"


Speakers = dict[int, frozenset[str]]
"""By person: the folded names of those who answer for them."""


class _Call(NamedTuple):
    """A call of the day as it is kept, with the number that was rung and whose that is."""

    person_id: int
    recorded_at: datetime
    outcome: str
    spoke_with: str
    value: str | None
    name: str | None
    given_names: str
    family_name: str


# Each statement is made once: making one takes longer than asking it does.
_C, _A, _X, _P = tables.ContactPoint, tables.AdultFor, tables.Contact, tables.Person
_HOLDERS = (
    select(_C.value, _C.person_id, _A.name, _P.given_names, _P.family_name)
    .join(_P, _P.id == _C.person_id)
    .outerjoin(_A, _A.id == _C.adult_id)
    .where(_C.kind == "phone", _C.value.in_(REFS), stands(_C), _C.until.is_(None))
)
_TODAY = (
    select(
        *(_X.person_id, _X.recorded_at, _X.outcome, _X.spoke_with),
        *(_C.value, _A.name, _P.given_names, _P.family_name),
    )
    .join_from(_X, _P, _P.id == _X.person_id)
    .outerjoin(_C, _C.id == _X.contact_point_id)
    .outerjoin(_A, _A.id == func.coalesce(_X.adult_id, _C.adult_id))
    .where(_X.person_id.in_(IDS), _X.on == bindparam("on", type_=Date()), stands(_X))
    .where(_X.channel.in_(sorted(CALLS)), _X.outcome.in_(_TOLD))
)


def others_with(session: Session, people: Sequence[PersonHeader]) -> Holders:
    """Return who has each of some numbers, each with whoever answers for them on it."""
    found = Holders({}, {})
    for some in pages(sorted({n.value for who in people for n in who.numbers if n.value})):
        for value, person, name, given_names, family in many_now(session, _HOLDERS, some):
            found.of.setdefault(value or "", {}).setdefault(person, set()).add(folded(name or ""))
            found.names[person] = f"{given_names} {family}".strip()
    return found


def asked_for_too(who: PersonHeader, held: Holders) -> set[int]:
    """Return for whom else the same one is asked for, on the number that is tried first."""
    first = who.numbers[0] if who.numbers else None
    if first is None or not first.owner:
        return set()
    name, holders = folded(first.owner), held.of.get(first.value, {})
    return {one for one, names in holders.items() if name in names} - {who.person_id}


def spoken_with(
    desk: Desk, session: Session, people: Sequence[PersonHeader], held: Holders
) -> dict[int, Spoken]:
    """Return the last call of the day about another, by person; nothing where there was none.

    One in which somebody was spoken with goes before one that nobody answered.
    """
    beside = {who.person_id: _beside(who, held) for who in people}
    others = sorted({one for some in beside.values() for one in some})
    if not others:
        return {}
    values = {**given(others), "on": desk.today}
    rows = [_Call(*row) for row in session.connection().execute(_TODAY, values)]
    speakers = _speakers(desk, session, rows)
    found: dict[int, Spoken] = {}
    for who in people if rows else ():
        mine = [row for row in rows if row.person_id in beside[who.person_id]]
        calls = [(row, each) for row in mine if (each := _call(desk, row, who, speakers))]
        if calls:
            last = max(calls, key=lambda pair: (pair[1].reached, pair[0].recorded_at))
            found[who.person_id] = last[1]
    return found


def spoken_about(desk: Desk, session: Session, person_id: int) -> Spoken | None:
    """Return the last call of the day about another, of one person; None where there was none."""
    headers = list(person_headers(session, [person_id], desk.today, desk.protocol.contact).values())
    return spoken_with(desk, session, headers, others_with(session, headers)).get(person_id)


def _speakers(desk: Desk, session: Session, rows: Sequence[_Call]) -> Speakers:
    """Return who answers for those of a call of which nobody wrote down who was spoken with."""
    unsaid = {row.person_id for row in rows if not (row.name or row.spoke_with)}
    known = reachable(session, sorted(unsaid), desk.today) if unsaid else {}
    return {
        number: frozenset(
            folded(one.names[a.id])
            for a in speakers_of(one.person, desk.today)
            if a.id in one.names
        )
        for number, one in known.items()
    }


def _beside(who: PersonHeader, held: Holders) -> set[int]:
    """Return who else has any of somebody's numbers."""
    return {one for n in who.numbers for one in held.of.get(n.value, ())} - {who.person_id}


def _call(desk: Desk, row: _Call, who: PersonHeader, speakers: Speakers) -> Spoken | None:
    """Return a call about another as it matters to somebody; None where it was to others."""
    owners = {folded(number.owner): number.owner for number in who.numbers if number.owner}
    name = row.name or row.spoke_with
    if not name:  # booked, or they rang: it was whoever answers for both
        both = speakers.get(row.person_id, frozenset()) & owners.keys()
        name = owners[min(both)] if both else ""
    on_it = row.value is not None and row.value in {number.value for number in who.numbers}
    if not on_it and folded(name) not in owners:
        return None
    outcome = _OUTCOME[row.outcome]
    about = " ".join(filter(None, (row.given_names, row.family_name)))
    at: datetime = row.recorded_at.astimezone(ZoneInfo(desk.config.calendar.time_zone))
    came = outcome.short.removesuffix("…").lower()
    return Spoken(at.time(), name, about, came, outcome.reached)
