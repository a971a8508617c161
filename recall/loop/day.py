"""What is due on a day, for whom, and in which order: the one place that says so.

Who acts has a list of their own: reception, a clinician, the post, the manager. On the lists of
those who ring or decide a person has one line, the most pressing of their next steps there; what
else is in reach rides along. Lists, counts, the order of the calls and the choice of letters are
views of these rows.

A row is worked out from facts. As long as nothing happens most steps stay what they are, so
that a row that was kept is as good as one worked out anew; `may_turn` says where it is not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date, time
from typing import Literal

import msgspec

from recall.care.case import URGENCIES, Urgency
from recall.loop.facts import Facts
from recall.loop.reach import latest_of_calls
from recall.loop.status import Status, status_on
from recall.protocol.contact import PRESSING, ContactProtocol
from recall.protocol.contact_steps import (
    ATTEND,
    FIRST_OF_ALL,
    LOOK_THROUGH,
    STEP,
    TOLD,
    TURNING,
    TYPE_VISIT,
    StepKind,
    Who,
)

View = Literal["reach", "reach_or_write", "clinician", "overdue", "lost", "open", "history"]
"""Whom reception is to reach; the same with the weekly letters; what waits for a clinician; who is
open past the latest day, booked or not; for whom everything was tried; everything that is open;
what is of before the practice went live and waits to be looked through: on no other list."""
ACTS: dict[View, tuple[Who, ...]] = {
    "reach": ("reception",),
    "reach_or_write": ("reception", "post"),
    "clinician": ("clinician",),
}
"""Who does the steps of a view in which a person has one line."""
HasCome = Callable[[date, time], bool]
"""Whether an hour of a day on the practice's wall clock has come."""
CallBy = Mapping[int, date]
"""By person, the earliest latest day of all that a call to them is about, where it is known."""
OWN_DAYS: CallBy = {}
_FIRST = frozenset(FIRST_OF_ALL)
_STEPS_OF = {
    view: frozenset(kind for kind, step in STEP.items() if step.who in who) - {ATTEND, LOOK_THROUGH}
    for view, who in ACTS.items()
}
"""The steps that a view of those who act may hold."""
SETTLED: dict[View, frozenset[str]] = {
    view: _STEPS_OF[view] - TURNING - {*TOLD, TYPE_VISIT} for view in ("reach", "reach_or_write")
}
"""The steps of whoever rings or writes that stay what they are, and say nothing about a person's
others: none of them is before everything else."""
_OF_THE_DAY = ("attendance", "visit")
"""What is typed in about an appointment: nobody is rung for it."""
_RANK = {urgency: rank for rank, urgency in enumerate(URGENCIES)}
_PRESSING_RANKS = frozenset(_RANK[urgency] for urgency in PRESSING)


class DayRow(msgspec.Struct, frozen=True, gc=False):
    """One follow-up as far as the day's lists ask: whose it is, what is next and when.

    Nothing in it refers to anything else, so the garbage collector, which would otherwise go
    over a whole practice's rows again and again, is told to leave it alone.
    """

    person: int
    number: int
    """The follow-up's number; 0 where nobody was contacted about it."""
    urgency: Urgency
    """As it stands on the day."""
    step: StepKind
    step_on: date
    latest: date
    is_lost: bool = False
    """Every contact step is used up, and nothing is missing before it may be said."""
    at: time | None = None
    """The hour of its day before which it is not done."""
    promised: bool = False
    """The hour was promised to the person."""
    told: bool = False
    """What the person told us waits for a clinician's word."""


def may_turn(step: str) -> bool:
    """Return whether a step may be another one on a later day although nothing happened."""
    return step in TURNING


def day_row(person: int, number: int, facts: Facts, status: Status) -> DayRow:
    """Return the row of something open, from how it stands on a day."""
    assert status.step is not None, "what is open has a next step"
    return DayRow(
        person=person,
        number=number,
        urgency=status.urgency,
        step=status.step.kind,
        step_on=status.step.on,
        latest=facts.latest,
        is_lost=status.step.used_up and not status.step.missing,
        at=status.step.at,
        promised=status.step.promised,
        told=status.step.told,
    )


def always(_day: date, _at: time) -> bool:
    """Take every hour as come: the day is over, or nobody asks for the hour."""
    return True


def due_on(
    known: Iterable[tuple[int, int, Facts]],
    on: date,
    rules: ContactProtocol,
    view: View,
    has_come: HasCome = always,
    seen: Iterable[int] = (),
) -> tuple[DayRow, ...]:
    """Return what is due on a day in order, from facts alone: of person, number and facts.

    `seen` are the people who were seen on that day.
    """
    held = list(known)
    found = ((person, number, facts, status_on(facts, on, rules)) for person, number, facts in held)
    rows = [day_row(*each) for each in found if each[3].step is not None]
    came = () if view not in ACTS else (seen_row(person, on) for person in seen)
    rings = view in SETTLED
    by = latest_of_calls(((who, facts) for who, _n, facts in held), on, rules) if rings else {}
    return listed((*rows, *came), on, view, has_come, by)


def listed(
    rows: Iterable[DayRow],
    on: date,
    view: View,
    has_come: HasCome = always,
    by: CallBy = OWN_DAYS,
) -> tuple[DayRow, ...]:
    """Return the rows of a view on a day, in the order of every list.

    The most pressing person first: one line for each where somebody acts for the person, and
    else what is open for one person together. For whoever rings, a promise whose hour has come
    is before all that presses, and what is not done before its hour is at the end until then.
    Whoever told us what waits for a clinician is rung by nobody else until that is answered.
    A person's line is that of their most pressing step; beside others that press as much it
    stands where the day `by` which to call puts it.
    """
    found = sorted(on_view(rows, on, view), key=_pressing)
    if view in ACTS:
        hours = any(row.at is not None for row in found)
        if hours:
            found.sort(key=lambda row: by_hour(row, has_come))
        first: dict[int, DayRow] = {}
        for row in found:
            first.setdefault(row.person, row)
        if not by:
            return tuple(first.values())
        return tuple(sorted(first.values(), key=lambda row: _by_call(row, by, has_come)))
    place: dict[int, int] = {}
    for n, row in enumerate(found):
        place.setdefault(row.person, n)
    if len(place) < len(found):
        found.sort(key=lambda row: place[row.person])
    return tuple(found)


Place = tuple[int, str, str, int, int]
"""What puts a row in its place among those who are rung: urgency, day by which to call, day of
the next step, person, number. Days are as they are written down, which is their order."""


def to_ring(
    rows: Iterable[DayRow],
    settled: Callable[[frozenset[str]], list[Place]],
    on: date,
    view: View,
    has_come: HasCome = always,
    by: CallBy = OWN_DAYS,
) -> tuple[list[Place], list[Place], list[Place]]:
    """Return whom a list of whoever rings holds, in the order that `listed` gives them.

    What was promised and has come, what is done now, what is done later today. `rows` are those
    of steps that may turn or that say something about a person's others; `settled` gives the
    places of what else has come to some of the `SETTLED` steps. Of these no row is made, since
    there may be tens of thousands.
    """
    known, steps = list(rows), SETTLED[view]
    told = _told(known, on)
    calls = frozenset(step for step in steps if _rests(step))
    now = settled(steps - calls if told else steps)
    if told:
        now += [place for place in settled(calls) if not _place_waits(place, told)]
    parts: tuple[list[Place], list[Place], list[Place]] = [], now, []
    for row in on_view(known, on, view):
        parts[by_hour(row, has_come)].append(_place(row))
    seen: set[int] = set()
    days = {person: day.isoformat() for person, day in by.items()}
    return _first(parts[0], seen, days), _first(parts[1], seen, days), _first(parts[2], seen, days)


def _first(places: list[Place], seen: set[int], by: Mapping[int, str]) -> list[Place]:
    """Return the places in order, each person once, at their most pressing step."""
    first = {place[3]: place for place in sorted(places, reverse=True)}
    for person in seen & first.keys():
        del first[person]
    seen.update(first)
    for person in by.keys() & first.keys():
        rank, latest, *_rest = place = first[person]
        first[person] = (rank, min(latest, by[person]), *place[2:])
    return sorted(first.values())


def _place(row: DayRow) -> Place:
    latest, step_on = row.latest.isoformat(), row.step_on.isoformat()
    return _RANK[row.urgency], latest, step_on, row.person, row.number


def _place_waits(place: Place, told: dict[int, int]) -> bool:
    """Return whether a call of something settled waits for a clinician's answer."""
    less = told.get(place[-2])
    return less is not None and (less == _NOTHING or place[0] not in _PRESSING_RANKS)


def belongs(row: DayRow, on: date, view: View) -> bool:
    """Return whether a row is on a list of a day."""
    if view == "open":
        return True
    if view == "history" or row.step == LOOK_THROUGH:
        return view == "history" and row.step == LOOK_THROUGH
    if view == "overdue":
        return row.latest < on
    if row.step_on > on or row.step == "attend":
        return False
    if view == "lost":
        return row.is_lost
    return not row.is_lost and STEP[row.step].who in ACTS[view]


def on_view(rows: Iterable[DayRow], on: date, view: View) -> list[DayRow]:
    """Return the rows of a list, in no order: for whoever rings, without those who told us more.

    A call to a clinician is about everything. Beside any other answer what presses, and what was
    promised for an hour, is still rung about: neither waits. Whether they came is still asked.
    Who came today is rung about nothing: they are in the house, or were a moment ago. Once they
    were seen it is as beside an answer.
    """
    if view not in ACTS:
        return [row for row in rows if belongs(row, on, view)]
    known, mine = list(rows), _STEPS_OF[view]
    # A line each for tens of thousands of rows: what `belongs` asks, without asking it.
    due = [row for row in known if row.step in mine and row.step_on <= on and not row.is_lost]
    told = _told(known, on) if "reception" in ACTS[view] else {}
    return [row for row in due if row.person not in told or not _waits(row, told[row.person])]


def seen_row(person: int, on: date) -> DayRow:
    """Return the row of somebody who was seen on a day: that day only what presses is rung about.

    What else is open for them was spoken of, or can wait until tomorrow.
    """
    return DayRow(person, 0, "low", TYPE_VISIT, on + date.resolution, on)


_SEEN, _ANSWER, _NOTHING = range(3)
"""Of what somebody is rung less about: they were seen, an answer is awaited, about nothing."""


def _told(known: Iterable[DayRow], on: date) -> dict[int, int]:
    """Return whom reception rings less about, or nothing, by person."""
    told: dict[int, int] = {}
    tomorrow = on + date.resolution
    for row in known:
        if row.told:
            less = _NOTHING if row.step in _FIRST else _ANSWER
        elif row.step == TYPE_VISIT and row.step_on == tomorrow:  # came today
            less = _NOTHING if row.number else _SEEN
        else:
            continue
        told[row.person] = max(told.get(row.person, _SEEN), less)
    return told


def _waits(row: DayRow, less: int) -> bool:
    """Return whether a call of reception waits for a clinician's answer about the same person.

    Who was seen is still given an appointment before they leave.
    """
    if not _rests(row.step):
        return False
    if row.promised or row.urgency in PRESSING or (less == _SEEN and STEP[row.step].lapses):
        return less == _NOTHING
    return True


def _rests(kind: str) -> bool:
    """Return whether a step may wait for a clinician's answer: reception's, not the day's own."""
    step = STEP[kind]
    return step.who == "reception" and step.done_as not in _OF_THE_DAY


def _pressing(row: DayRow) -> tuple[bool, int, date, date, int, int]:
    """Return what puts the most pressing first: what a clinician would want to see first."""
    return (
        row.step not in _FIRST,
        _RANK[row.urgency],
        row.latest,
        row.step_on,
        row.person,
        row.number,
    )


def _by_call(row: DayRow, by: CallBy, has_come: HasCome) -> tuple[int, int, date, date, int, int]:
    """Return the place of a person's line among the others who are rung."""
    latest = min(row.latest, by.get(row.person, row.latest))
    part, rank = by_hour(row, has_come), _RANK[row.urgency]
    return part, rank, latest, row.step_on, row.person, row.number


def by_hour(row: DayRow, has_come: HasCome) -> int:
    """Return the part of the day's work that a row is in: promised, now, later today."""
    if row.at is None:
        return 1
    if not has_come(row.step_on, row.at):
        return 2
    return 0 if row.promised else 1
