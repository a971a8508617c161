"""The lines of the call list: one for each number to ring, with the people under it.

A home of ten is one line, where its most pressing person would stand. Each of its people keeps
their own card, and what is recorded is recorded for one of them. Whoever the same adult answers
for, on a number that both have, is under it too: both are spoken of in one call, though the other
is rung on another number first. Who is promised an hour, or is rung later today, has a line of
their own until then.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec
from sqlalchemy.orm import Session

from recall.desk.core.first_numbers import FirstNumber, first_numbers, phones
from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.worklists.day_list import to_ring_on
from recall.loop.day import Place


class AtNumber(msgspec.Struct, frozen=True, gc=False):
    """Somebody to reach under a number."""

    follow_up: int
    name: str = ""
    """Told only where others are under the same number."""
    value: str = ""
    """Of the number that is tried first; told only there, too."""


Line = tuple[AtNumber, ...]


@needs(Right.LOOK)
def call_lines(desk: Desk) -> tuple[Line, ...]:
    """Return whom reception is to reach today, by the number that is tried first, in order."""
    with desk.store.read() as session:
        only_shown(desk, session)
        parts = to_ring_on(desk, session)
        people = [place[3] for places in parts for place in places if place[4]]
        known = _first_numbers(desk, session, people)
    return _lines(parts, known)


def _lines(parts: Sequence[Sequence[Place]], known: Mapping[int, FirstNumber]) -> tuple[Line, ...]:
    """Return the lines of those who are to be rung, in order; most are alone on theirs."""
    lines: list[Line] = []
    places: dict[tuple[str, str, int], int] = {}
    for part, some in enumerate(parts):
        for place in some:
            if not (number := place[4]):
                continue
            first = known.get(place[3])
            if first is None:
                lines.append((AtNumber(number),))
                continue
            at = _place(places, first, part, len(lines))
            mine = (AtNumber(number, first.name, first.value),)
            if at == len(lines):
                lines.append(mine)
            else:
                lines[at] += mine
    return tuple(lines)


def _place(places: dict[tuple[str, str, int], int], first: FirstNumber, part: int, new: int) -> int:
    """Return the line of somebody by their number, or by whom is asked for them; else a new one."""
    if not first.asked:
        return places.setdefault((first.value, "", part), new)
    under = [(first.value, "", part), *((*each, part) for each in sorted(first.asked))]
    at = next((places[one] for one in under if one in places), new)
    for one in under:
        places.setdefault(one, at)
    return at


@needs(Right.LOOK)
def others_on_line(desk: Desk, follow_up_id: int) -> tuple[int, ...]:
    """Return who else is to be reached today on the number of somebody who is."""
    for line in call_lines(desk):
        for mine in line:
            if mine.follow_up == follow_up_id:
                return tuple(one.follow_up for one in on_number(line, mine))
    return ()


def on_number(line: Line, mine: AtNumber) -> list[AtNumber]:
    """Return who else on a line is rung on the same number first: so nobody answered for them."""
    return [one for one in line if one is not mine and one.value == mine.value]


def _first_numbers(
    desk: Desk, session: Session, person_ids: Sequence[int]
) -> dict[int, FirstNumber]:
    """Return the number that is tried first, of those who may share one."""
    ways = phones(session, set(person_ids), desk.today)
    holder: dict[str, int] = {}
    shared: set[int] = set()
    for person, value, _safe, _adult in ways:
        if value and (before := holder.setdefault(value, person)) != person:
            shared.update((before, person))
    return first_numbers(session, shared, desk.today, ways) if shared else {}
