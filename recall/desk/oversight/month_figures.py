"""What to change: a year's figures up to a month's end, as they are drawn and listed.

Each is a view: who came in time and what became of referrals by the one ledger of asks; calls and
letters by what is on record of them.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median
from typing import cast
from zoneinfo import ZoneInfo

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.accounts.cohort import Day, Period
from recall.accounts.rates import in_time
from recall.care.case import To
from recall.care.services import SERVICES
from recall.cycle.curve import percent
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.imports.contacts_and_bookings import hour_in_note
from recall.desk.oversight.accounts import Reading, reading
from recall.loop.outcomes import DONE, OUTCOMES
from recall.loop.referral import Stage
from recall.protocol.contact_steps import LETTER_STEPS, STEP
from recall.records.facts.cases import stands
from recall.records.tables import Booking, Contact, Letter

Minutes = Mapping[str, int]
"""What a contact step takes at the desk, by what records it."""
MONTHS = 12
BOOKED_WITHIN = timedelta(days=14)
_REACHED = frozenset(one.id for one in OUTCOMES if one.reached)
_STAGES: tuple[Stage, ...] = ("sent", "accepted", "seen", "result")
_STAGE_WORDS = {"result": "with a result"}
BEFORE, NO_STEP = "calls from a file", "step not known"
"""The labels of calls that were made before the practice had this register, and of others of which
no step is on record."""
NO_HOUR = "hour not known"
"""The label of calls that were noted on another day, or that a file gives without an hour."""
TOO_FEW = 5
"""Of fewer no share is told: it says more about chance than about the practice."""


@dataclass(frozen=True)
class Bar:
    """One line of a figure."""

    label: str
    part: float
    """How much of the figure's width it fills, from 0 to 1."""
    count: int
    of: int | None
    says: str
    days: float | None = None
    """Days in the middle, of what is counted in days."""


@dataclass(frozen=True)
class Figure:
    """One chart: a heading and its bars."""

    heading: str
    bars: tuple[Bar, ...]


@dataclass(frozen=True)
class FigureRow:
    """One bar as a row for spreadsheets."""

    figure: str
    label: str
    count: int
    of: int | None
    days: float | None
    says: str


def rows_of(found: tuple[Figure, ...]) -> tuple[FigureRow, ...]:
    """Return every bar as a row."""
    return tuple(
        FigureRow(figure.heading, bar.label, bar.count, bar.of, bar.days, bar.says)
        for figure in found
        for bar in figure.bars
    )


@needs(Right.LOOK)
def figures(desk: Desk, month: date) -> tuple[Figure, ...]:
    """Return the figures of the twelve months up to the end of a month."""
    first, last = _month(month)
    on = min(last, max(first, desk.today))
    began = first
    for _ in range(MONTHS - 1):
        began = (began - timedelta(days=1)).replace(day=1)
    with desk.store.read() as session:
        found = reading(desk, session, Day(on, at_end=on < desk.today))
        return (
            Figure("Came in time, by the month in which they were due", _in_time(found, began, on)),
            Figure("Days from asked to each stage, by service", _stages(found, began, on)),
            Figure("Calls answered, by the hour", _hours(desk, session, began, on)),
            Figure("What came of each contact step", _steps(desk, session, began, on)),
        )


def _month(day: date) -> tuple[date, date]:
    first = day.replace(day=1)
    return first, (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)


def _share(label: str, count: int, of: int, what: str) -> Bar:
    """Return a bar that shows how many of how many; of a few without a share."""
    part = f", {percent(count / of)}" if of >= TOO_FEW else ""
    return Bar(label, count / of if of else 0, count, of, f"{count} of {of} {what}{part}")


def _in_time(found: Reading, began: date, on: date) -> tuple[Bar, ...]:
    bars = []
    first = began
    while first <= on:
        _first, last = _month(first)
        share = in_time(found.rechecks.within(Period(first, last)))
        bars.append(_share(f"{first:%Y-%m}", share.hits, share.of, "people"))
        first = last + timedelta(days=1)
    return tuple(bars)


def _stages(found: Reading, began: date, on: date) -> tuple[Bar, ...]:
    """Return the median days to each stage that is on record, by service."""
    took: dict[tuple[str, Stage], list[int]] = defaultdict(list)
    asked: Counter[str] = Counter()
    for entry in found.referrals.entries:
        if not began <= entry.asked_on <= on:
            continue
        asked[entry.kind] += 1
        reached = found.sent[entry.number].recorded(on)
        for stage in _STAGES:
            if day := reached.get(stage):
                took[entry.kind, stage].append((day - entry.asked_on).days)
    most = max((median(days) for days in took.values()), default=0) or 1
    return tuple(
        _took(kind, stage, took[kind, stage], asked[kind], most)
        for kind, stage in sorted(took, key=_by_stage)
    )


def _by_stage(one: tuple[str, Stage]) -> tuple[str, int]:
    return one[0], _STAGES.index(one[1])


def _took(kind: str, stage: str, days: list[int], asked: int, most: float) -> Bar:
    middle = median(days)
    unit = "day" if middle == 1 else "days"
    says = (
        f"{middle:g} {unit} in the middle, {len(days)} of {asked} {_STAGE_WORDS.get(stage, stage)}"
    )
    label = f"{SERVICES[cast(To, kind)].short}: {stage}"
    return Bar(label, middle / most, len(days), asked, says, float(middle))


def _hours(desk: Desk, session: Session, began: date, on: date) -> tuple[Bar, ...]:
    """Return by hour how many calls of ours reached somebody.

    The hour is that of the machine, of a call that was noted on its day; or the one that a file
    gives with a call from before the register. Calls of which neither is known have a bar of
    their own, so that none is missing from the sum.
    """
    c = Contact
    ours = c.channel == "phone", c.by_them.is_(False), stands(c), c.on.between(began, on)
    zone = ZoneInfo(desk.config.calendar.time_zone)
    rung, reached = Counter[str](), Counter[str]()
    columns = c.id, c.person_id, c.recorded_at, c.on, c.outcome, c.ref, c.note
    calls: dict[tuple[object, ...], tuple[str, str]] = {}
    for number, person, at, day, outcome, ref, note in session.execute(
        select(*columns).where(*ours)
    ):
        local = at.astimezone(zone).replace(second=0, microsecond=0)
        if ref is not None:
            calls[person, ref] = _hour(hour_in_note(note)), outcome
        elif local.date() == day:
            calls[person, local] = _hour(local.hour), outcome
        else:
            calls[person, number] = NO_HOUR, outcome
    for hour, outcome in calls.values():
        if outcome not in DONE:
            rung[hour] += 1
            reached[hour] += outcome in _REACHED
    return tuple(_share(hour, reached[hour], rung[hour], "calls") for hour in sorted(rung))


def _hour(hour: int | None) -> str:
    return NO_HOUR if hour is None else f"{hour:02}:00"


def _steps(desk: Desk, session: Session, began: date, on: date) -> tuple[Bar, ...]:
    """Return what came of each contact step, with the work that it took for each booking."""
    minutes = msgspec.structs.asdict(desk.config.capacity.steps)
    told = (*_calls(session, began, on, minutes), *_letters(session, began, on, minutes))
    return (*told, *_before(session, began, on, minutes))


def _minutes(step: str, minutes: Minutes) -> int:
    """Return what a step takes at the desk; of what is in no table, what a call does."""
    known = STEP.get(step)
    return minutes["contact"] if known is None else minutes[known.done_as or "decided"]


def _earned(booked: int, tried: int, minutes: int) -> str:
    """Say what the bookings that came of a step took.

    >>> _earned(2, 10, 5), _earned(0, 10, 5)
    (', 25 min of work each', ' in 50 min of work')
    """
    spent = tried * minutes
    return f", {spent / booked:.0f} min of work each" if booked else f" in {spent} min of work"


def _before(session: Session, began: date, on: date, minutes: Minutes) -> Iterator[Bar]:
    """Give the calls of no step that is known here: those that a file brought, and others."""
    c = Contact
    ours = c.channel == "phone", c.by_them.is_(False), stands(c), c.step == ""
    wanted = select(c.outcome, c.ref).where(*ours, c.on.between(began, on))
    came: dict[str, list[str]] = {BEFORE: [], NO_STEP: []}
    for outcome, ref in session.execute(wanted):
        if outcome not in DONE:
            came[NO_STEP if ref is None else BEFORE].append(outcome)
    for label, outcomes in came.items():
        if outcomes:
            reached = sum(outcome in _REACHED for outcome in outcomes)
            booked = outcomes.count("booked")
            took = _earned(booked, len(outcomes), minutes["contact"])
            bar = _share(label, reached, len(outcomes), "reached somebody")
            yield Bar(bar.label, bar.part, bar.count, bar.of, f"{bar.says}; {booked} booked{took}")


def _calls(session: Session, began: date, on: date, minutes: Minutes) -> Iterator[Bar]:
    c = Contact
    # Of letters sent before the register nothing that came of them is known here.
    ours = (c.by_them.is_(False), stands(c), c.step != "", c.channel != "letter")
    tried, reached, booked = Counter[str](), Counter[str](), Counter[str]()
    for step, outcome in session.execute(
        select(c.step, c.outcome).where(*ours, c.on.between(began, on))
    ):
        tried[step] += 1
        reached[step] += outcome in _REACHED
        booked[step] += outcome == "booked"
    for step in _in_order(tried):
        took = _earned(booked[step], tried[step], _minutes(step, minutes))
        bar = _share(_words(step), reached[step], tried[step], "reached somebody")
        says = f"{bar.says}; {booked[step]} booked{took}"
        yield Bar(bar.label, bar.part, bar.count, bar.of, says)


def _letters(session: Session, began: date, on: date, minutes: Minutes) -> Iterator[Bar]:
    """Give by letter step how many were booked within 14 days, and how many came back.

    Of letters that have not had their 14 days by then nothing is told: they are in the month
    in which they have. What is no step of a contact run, such as a confirmation, asks for none.
    """
    n, last = Letter, on - BOOKED_WITHIN
    posted = n.posted_on.between(began, last), stands(n), n.step.in_(LETTER_STEPS)
    made: dict[int, list[date]] = defaultdict(list)
    for person, day in session.execute(
        select(Booking.person_id, Booking.on).where(stands(Booking))
    ):
        made[person].append(day)
    sent, booked, back = Counter[str](), Counter[str](), Counter[str]()
    wanted = select(n.person_id, n.step, n.posted_on, n.returned_on).where(*posted)
    for person, step, posted_on, returned in session.execute(wanted):
        until = (posted_on or on) + BOOKED_WITHIN
        sent[step] += 1
        booked[step] += any((posted_on or on) <= each <= until for each in made[person])
        back[step] += returned is not None
    for step in _in_order(sent):
        took = _earned(booked[step], sent[step], _minutes(step, minutes))
        bar = _share(f"{_words(step)}, letter", booked[step], sent[step], "booked within 14 days")
        says = f"{bar.says}{took}; {back[step]} came back"
        yield Bar(bar.label, bar.part, bar.count, bar.of, says)


def _in_order(steps: Counter[str]) -> list[str]:
    """Return steps in the order of the one table, others behind."""
    known = [step for step in STEP if step in steps]
    return known + sorted(set(steps) - set(known))


def _words(step: str) -> str:
    return step.replace("_", " ")
