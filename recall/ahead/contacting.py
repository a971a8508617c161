"""What the contact steps of the weeks ahead will take, if nobody is heard from.

Each open follow-up has its next step on a day. The rest of its run follows on the days that the
contact protocol gives, as it would be without an answer: so it is the most that is to come. For
whoever is expected to miss an appointment a call is counted in its week.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta

import msgspec

from recall.care.case import Urgency
from recall.protocol.contact import ContactProtocol, Run, StepRule
from recall.protocol.contact_steps import STEP, ContactStep


class Reaching(msgspec.Struct, frozen=True, gc=False):
    """An open follow-up that is not booked: its next contact step, and its dates."""

    step: str
    step_on: date
    urgency: Urgency
    asked_on: date
    earliest: date
    target: date
    latest: date
    again: bool = False
    """It is on a later round."""


class Steps(msgspec.Struct, frozen=True):
    """The contact steps of one week."""

    calls: int
    letters: int
    others: int
    minutes: int
    after_missed: float = 0.0
    """Calls to offer another day to those who are expected to miss theirs; in the minutes."""


def steps_ahead(one: Reaching, rules: ContactProtocol) -> Iterator[tuple[str, date]]:
    """Give the next step of a follow-up and those of its run that come after it, each a day."""
    yield one.step, one.step_on
    run = rules.run_for(one.urgency, one.again, one.asked_on, one.latest)
    day = one.step_on
    for step in _after(run, one):
        planned = max(step.day(_anchor(step, one)), step.floor(one.asked_on))
        day = max(day + timedelta(days=1), planned)
        for _ in range(step.tries):
            yield step.kind, day


def _after(run: Run, one: Reaching) -> tuple[StepRule, ...]:
    """Return what comes after a follow-up's step in its run; nothing of what is in no run."""
    at = [
        n
        for n, step in enumerate(run.steps)
        if step.kind == one.step and step.day(_anchor(step, one)) <= one.step_on
    ]
    first = at[-1] + 1 if at else _kind_at(run, one.step)
    return tuple(s for s in run.steps[first:] if not STEP[s.kind].lapses)


def _kind_at(run: Run, kind: str) -> int:
    found = [n + 1 for n, step in enumerate(run.steps) if step.kind == kind]
    return found[0] if found else len(run.steps)


def _anchor(step: StepRule, one: Reaching) -> date:
    return {
        "visit": one.asked_on,
        "earliest": one.earliest,
        "target": one.target,
        "halfway": one.target + (one.latest - one.target) // 2,
        "latest": one.latest,
        "round": one.step_on if one.again else one.asked_on,
    }[step.anchor]


def week_by_week(
    all_of_them: Iterable[Reaching],
    rules: ContactProtocol,
    mondays: list[date],
    minutes: Mapping[str, int],
    missed: Sequence[float] = (),
) -> list[Steps]:
    """Return the steps of each week; what should have been done before is in the first.

    Args:
        all_of_them: the open follow-ups that are not booked.
        rules: how people are reached.
        mondays: the weeks, in order.
        minutes: by what records a step as done, and `decided` for what nothing records.
        missed: how many appointments of each week are expected to be missed: a call for each.
    """
    counts: list[Counter[str]] = [Counter() for _ in mondays]
    end = mondays[-1] + timedelta(days=7)
    for one in all_of_them:
        for kind, day in steps_ahead(one, rules):
            if day >= end:
                break
            counts[max(0, (day - mondays[0]).days // 7)][kind] += 1
    calls = [*missed, *(0.0 for _ in mondays)]
    return [_told(count, minutes, calls[n]) for n, count in enumerate(counts)]


def _told(count: Counter[str], minutes: Mapping[str, int], after_missed: float) -> Steps:
    by = [(STEP[kind], number) for kind, number in count.items()]
    calls = sum(n for step, n in by if step.is_call)
    letters = sum(n for step, n in by if step.is_letter)
    took = sum(n * _minutes(step, minutes) for step, n in by)
    took += round(after_missed * minutes["contact"])
    return Steps(calls, letters, sum(count.values()) - calls - letters, took, after_missed)


def _minutes(step: ContactStep, minutes: Mapping[str, int]) -> int:
    return minutes[step.done_as or "decided"]
