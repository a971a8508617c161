"""The lines of the call list: one for each number to ring, with the people under it.

A home of ten is one line, where its most pressing person would stand. Each of its people keeps
their own card, and what is recorded is recorded for one of them. Who is promised an hour, or is
rung later today, has a line of their own until then.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.first_numbers import first_numbers
from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.day_list import to_ring_on
from recall.records import tables
from recall.records.facts.cases import pages, stands


@dataclass(frozen=True)
class AtNumber:
    """Somebody to reach under a number."""

    follow_up: int
    name: str = ""
    """Told only where others are under the same number."""


Line = tuple[AtNumber, ...]


@needs(Right.LOOK)
def call_lines(desk: Desk) -> tuple[Line, ...]:
    """Return whom reception is to reach today, by the number that is tried first, in order."""
    with desk.store.read() as session:
        only_shown(desk, session)
        rows = [
            (person, number, part)
            for part, places in enumerate(to_ring_on(desk, session))
            for *_key, person, number in places
            if number
        ]
        known = _first_numbers(desk, session, [person for person, _number, _part in rows])
    lines: dict[tuple[str, int], list[AtNumber]] = {}
    for person, number, part in rows:
        value, name = known.get(person, ("", ""))
        key = (value, part) if value else ("", -number)
        lines.setdefault(key, []).append(AtNumber(number, name))
    return tuple(tuple(line) for line in lines.values())


@needs(Right.LOOK)
def others_on_line(desk: Desk, follow_up_id: int) -> tuple[int, ...]:
    """Return who else is to be reached today on the number of somebody who is."""
    for line in call_lines(desk):
        numbers = [one.follow_up for one in line]
        if follow_up_id in numbers:
            return tuple(number for number in numbers if number != follow_up_id)
    return ()


def _first_numbers(
    desk: Desk, session: Session, person_ids: Sequence[int]
) -> dict[int, tuple[str, str]]:
    """Return the number that is tried first and the name, of those who may share one."""
    held = list(_held(session, person_ids))
    times = Counter(value for value, _person in set(held))
    shared = sorted({person for value, person in held if times[value] > 1})
    return first_numbers(session, shared, desk.today)


def _held(session: Session, person_ids: Sequence[int]) -> Iterator[tuple[str, int]]:
    """Give each number of some people, with whose it is."""
    c = tables.ContactPoint
    for some in pages(sorted(set(person_ids))):
        phones = c.kind == "phone", c.value.is_not(None), c.until.is_(None), stands(c)
        wanted = select(c.value, c.person_id).where(c.person_id.in_(some), *phones)
        for value, person in session.execute(wanted):
            yield value or "", person
