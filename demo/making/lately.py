"""How things stand on the first morning: most came when they were asked, some did not.

What was asked for is what the program asks after the visits so far, so that the files fit the
rules that are shipped. Made anew after a change of the rules, they fit those.
"""

import random
from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta

from making import DEMO_DAY, GIVEN_UP_FROM, GIVEN_UP_TO, LOST, SEED, WENT_LIVE, asked
from making.course import Course, Visit, workday
from making.ears import SIDES, hearing
from making.names import EXAMINERS
from recall.schedule.plan import FollowUp, Plan

WAITS = 0.1
"""Share of those whom history asked for whom nobody has looked through yet."""
LATE, LONG_LATE = 0.04, 0.2
"""Share of those asked for since the practice went live who have not come, of late and before."""
LATELY, NOT_YET = timedelta(weeks=7), 0.55
"""Share of those who would have come in the last weeks who have not come yet."""
FOR_LONG = timedelta(weeks=12)
"""The same of care homes and of families, who come together."""
ROUNDS = 14
AGAIN = timedelta(weeks=2)
"""After so long they come once more where a visit did not answer what it was for."""

Tries = dict[tuple[object, ...], int]
"""How often somebody came for a follow-up: first as their story goes, then all is well."""


def catch_up(courses: Sequence[Course]) -> dict[str, Plan]:
    """Let people come until nothing is late but what is meant to be; return what is asked then."""
    shared = Counter(id(course.person.home) for course in courses if course.person.is_child)
    for course in courses:
        family = shared[id(course.person.home)] > 1
        _not_yet(course, FOR_LONG if family or course.person.home.is_care_home else LATELY)
    tries: Tries = {}
    gone: set[str] = set()
    for _ in range(ROUNDS):
        plans = asked.plans(courses)
        asked_for = [(course, plans.get(course.person.ref)) for course in courses]
        if not sum(_comes(course, plan, tries, gone) for course, plan in asked_for if plan):
            break
    return plans


def pressing(course: Course, plan: Plan) -> FollowUp:
    """Return the follow-up that presses most by its days, history aside where there is more."""
    seen_since = course.visits[-1].on >= WENT_LIVE
    now = [f for f in plan.follow_ups if seen_since or f.latest >= WENT_LIVE]
    return min(now or plan.follow_ups, key=lambda each: each.latest)


def luck(course: Course, what: str) -> random.Random:
    """Return a source of chance for one thing in one person's course."""
    return random.Random(f"{SEED} {course.person.ref} {what}")


def _not_yet(course: Course, lately: timedelta) -> None:
    """Leave out a visit of the last weeks: what it was for is still open on the first morning."""
    last = course.visits[-1].on
    is_late = last > DEMO_DAY - lately and len(course.visits) > 1
    died = course.person.deceased_on is not None
    if is_late and not died and luck(course, "not yet").random() < NOT_YET:
        course.visits.pop()


def _comes(course: Course, plan: Plan, tries: Tries, gone: set[str]) -> bool:
    """Let somebody come for what is late, if they do; return whether they came.

    `gone` has the references of those who are to be lost, so many and no more.
    """
    person = course.person
    if person.deceased_on or person.objected_on:
        return False
    for due in sorted(plan.follow_ups, key=lambda each: each.latest):
        key = person.ref, due.earliest, due.latest, due.tracks
        if due.latest >= DEMO_DAY - timedelta(days=3) or tries.get(key, 0) > 1:
            continue
        lost = GIVEN_UP_FROM <= due.latest <= GIVEN_UP_TO
        if lost and len(gone) < LOST:
            gone.add(person.ref)
        if (lost and person.ref in gone) or _stays(course, due.latest, plan):
            return False
        tries[key] = tries.get(key, 0) + 1
        return _one_more(course, due, tries[key])
    return False


def _stays(course: Course, latest: date, plan: Plan) -> bool:
    """Return whether they have not come for what was to be done by a day."""
    soon = DEMO_DAY + timedelta(weeks=3)
    now = any(f.latest >= WENT_LIVE and f.earliest <= soon for f in plan.follow_ups)
    if latest < WENT_LIVE:
        waits = luck(course, "waits").random() < WAITS
        return waits and not now and course.visits[-1].on < WENT_LIVE
    long = latest < DEMO_DAY - timedelta(weeks=3)
    return luck(course, "late").random() < (LONG_LATE if long else LATE)


def _one_more(course: Course, due: FollowUp, number: int) -> bool:
    """Let them come once more, inside the window as far as that can be before today."""
    rng = luck(course, f"look {due.latest} {number}")
    last = course.visits[-1].on
    soon = last + (AGAIN if last >= due.earliest else timedelta(days=1))
    wanted = max(due.target + timedelta(days=rng.randint(-3, 12)), due.earliest)
    day = workday(max(min(wanted, due.latest), soon))
    if day >= DEMO_DAY:
        return False
    visit = Visit(day, rng.choice(EXAMINERS))
    if course.look is not None and number == 1:
        course.look(len(course.visits), visit)
    else:
        _all_is_well(rng, visit)
    course.visits.append(visit)
    return True


def _all_is_well(rng: random.Random, visit: Visit) -> None:
    """See everything, and nothing amiss."""
    for side in SIDES:
        visit.put(
            side,
            {
                "wax_found": "none",
                "wax_left": "none",
                "drum_seen": "full",
                "attic_seen": True,
                "effusion": "absent",
                "tensa_grade": 0,
                "attic_grade": 0,
                "perforation": "none",
                "discharge": "none",
                "canal_skin": "normal",
                "hearing_dB": hearing(rng, 10),
            },
        )
