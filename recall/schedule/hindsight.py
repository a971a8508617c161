"""One person's own history under a protocol: what it would have asked for, and what it found when.

The visits stay where they were: what is compared is when each protocol wanted the next look.
A look that a protocol would have wanted `n` days later would have found what it found `n` days
later, provided the person came as much early or late as they did.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import NamedTuple

from recall.care.case import Case
from recall.care.ear import SIDES, Side
from recall.protocol.loading import Protocol
from recall.schedule.found import Found, findings_of
from recall.schedule.order import has_findings
from recall.schedule.own_cycle import Populations
from recall.schedule.plan import Decision, Due, Plan
from recall.schedule.planning import plan

PRESSING = ("emergency", "urgent")


class Discovery(NamedTuple):
    """A finding that was new or worse at a visit, and when the plan before wanted that look."""

    on: date
    ear: Side
    found: Found
    wanted_on: date | None
    """The target of the next look that was asked for; None where none was."""
    asked_by: str = ""
    """The rule that asked for that look; nothing where none was."""
    sent_to: str = ""
    """Who was asked to see that ear, where no look of our own was asked for."""
    seen_by: date | None = None
    """By when they were to see it."""


class History(NamedTuple):
    """What one protocol would have made of one person's visits."""

    appointments: float
    """Appointments that fell into the time between the visits, by their intervals."""
    referrals: int
    pressing: int
    """Of these, emergency or urgent."""
    discoveries: tuple[Discovery, ...]


def history_under(
    case: Case,
    protocol: Protocol,
    today: date,
    *,
    decisions: Sequence[Decision] = (),
    population: Populations = None,
) -> History:
    """Return what a protocol would have asked for after each visit of a person up to today."""
    days = sorted({v.on for v in case.visits if v.on <= today and has_findings(v)})
    plans = [plan(case, protocol, d, decisions=decisions, population=population) for d in days]
    ends = [*days, today][1:]
    asked = [r for p in plans for r in p.referrals if r.asked_on == p.on]
    return History(
        sum(_appointments(p, end) for p, end in zip(plans, ends, strict=True)),
        len(asked),
        sum(r.urgency in PRESSING for r in asked),
        tuple(_discoveries(case, plans, days)),
    )


def _appointments(made: Plan, until: date) -> float:
    """Return how many of a plan's appointments fall into the time until a day.

    One that is wanted after 60 days counts for a half after 30, and for one from 60 on: so an
    interval twice as long comes to half as many.
    """
    passed = (until - made.on).days
    waits = ((f.target - made.on).days for f in made.follow_ups)
    return sum(1.0 if wait <= passed else passed / wait for wait in waits)


def _discoveries(case: Case, plans: Sequence[Plan], days: Sequence[date]) -> Iterator[Discovery]:
    """Yield what was new or worse at each visit after the first."""
    worst: dict[tuple[Side, str], int] = {}
    before: dict[date, Plan] = {day: made for made, day in zip(plans, days[1:], strict=False)}
    for visit in sorted(case.visits, key=lambda v: v.on):
        for side in SIDES:
            ear = visit.right if side == "right" else visit.left
            for found in findings_of(ear) if ear is not None else ():
                known = worst.get((side, found.name), -1)
                worst[side, found.name] = max(known, found.rank)
                if found.rank > known and visit.on in before:
                    yield _discovery(before[visit.on], visit.on, side, found)


def _discovery(made: Plan, on: date, side: Side, found: Found) -> Discovery:
    """Return a finding with the next appointment that would have shown it, and who asked for it.

    Whoever looks into one ear looks into the other; a loss is found by a test only. Where nobody
    looks here, it is said who else was asked to see that ear.
    """
    dues = [d for f in made.follow_ups for d in f.dues if _would_show(d, found)]
    if dues:
        first = min(dues, key=lambda d: (d.target, d.ear != side, d.kind == "retry", d.rule))
        rule = first.beaten[0] if first.kind == "retry" and first.beaten else first.rule
        return Discovery(on, side, found, first.target, rule)
    sent = [r for r in made.referrals if side in r.ears]
    if not sent:
        return Discovery(on, side, found, None)
    soonest = min(sent, key=lambda r: (r.stages.seen_by, r.to))
    return Discovery(on, side, found, None, "", soonest.to, soonest.stages.seen_by)


def _would_show(due: Due, found: Found) -> bool:
    tests = "hearing" in due.needs
    return tests if found.look == "hearing" else due.needs != ("hearing",)
