"""What became of the referrals that the program asks for: most came back, some are on their way."""

import random
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta

from making import DEMO_DAY, WENT_LIVE
from making.course import Course, workday
from making.lately import luck
from making.rows import Fate
from recall.schedule.plan import Plan, Referral

WAITS = 0.05
"""Share of the old ones of which nobody knows what became of them."""
SILENT = 0.35
"""Share of the new ones whose last stage nobody told the practice: they are asked about."""
UNTOLD = 0.15
"""Share of the new ones of which nothing was written down: were they sent at all?"""
FOUND = {
    "ent": ("Seen; nothing to be done there now.", "Seen and treated.", "Watched in their clinic."),
    "audiology": ("Hearing tested; hearing aids offered.", "Hearing tested; no aid wanted."),
    "paediatric_audiology": (
        "Hearing tested; within the usual range.",
        "Hearing tested; they look again in three months.",
    ),
    "gp": ("Seen by the GP.",),
}
"""What a service wrote back."""


def fates(courses: Sequence[Course], plans: Mapping[str, Plan]) -> list[Fate]:
    """Return what became of all referrals, those asked for first before the others."""
    found: list[tuple[date, str, Referral, Course]] = []
    for course in courses:
        plan = plans.get(course.person.ref)
        for each in plan.referrals if plan else ():
            found.append((each.asked_on, course.person.ref, each, course))
    told: list[Fate] = []
    for _, _, each, course in sorted(found, key=lambda one: (one[:2], one[2].to, one[2].ears)):
        told += _fate(f"R{4001 + len(told)}", each, course)
    return told


def _fate(ref: str, asked: Referral, course: Course) -> Iterator[Fate]:
    """Give the row of one referral; none where nobody knows."""
    rng = luck(course, f"referred {asked.to} {asked.asked_on}")
    if course.person.deceased_on:
        return
    if rng.random() < (WAITS if asked.stages.seen_by < WENT_LIVE else UNTOLD):
        return
    ear = asked.ears[0] if len(asked.ears) == 1 else "both"
    about = ref, course.person.ref, asked.to, ear
    days = _days(rng, asked)
    words = rng.choice(FOUND[asked.to])
    told = [day for day in days if day < DEMO_DAY]
    if asked.stages.seen_by < WENT_LIVE:
        last = DEMO_DAY - timedelta(days=3)
        days = [min(day, last) for day in days]
        yield Fate(*about, *days[:3], words, days[3])
    elif len(told) == len(days):
        yield Fate(*about, *told[:3], words, told[3])
    else:
        told = told[: len(told) - (rng.random() < SILENT)]
        if told:
            yield Fate(*about, *told)


def _days(rng: random.Random, asked: Referral) -> list[date]:
    """Return when it was sent and accepted, when they were seen, and when the result came."""
    stages = asked.stages
    if asked.urgency == "emergency":
        first = [asked.asked_on] * 3
        return [*first, workday(asked.asked_on + timedelta(days=rng.randint(2, 9)))]
    found = [workday(min(asked.asked_on + timedelta(days=rng.randint(0, 2)), stages.sent_by))]
    for before, by in (
        (asked.asked_on, stages.accepted_by),
        (stages.accepted_by, stages.seen_by),
        (stages.seen_by, stages.result_by),
    ):
        day = before + timedelta(days=int((by - before).days * rng.uniform(0.4, 1.0)))
        found.append(workday(max(day, found[-1])))
    return found
