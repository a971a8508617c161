"""What this register knows of ears that stayed as they were at three looks.

A rule lengthens such a look once. Whether the person may come back only if something changes is
for the clinician to offer; what became of others is put beside it, with its interval, for few
people show little.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.course import Course
from recall.care.ear import Ear, Side, ears_of
from recall.care.grades import Grades
from recall.cycle.curve import wilson
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import many
from recall.schedule.plan import Plan
from recall.schedule.plan_lines import lines_of

SCALE_OF = {
    "tensa-one-child-stable": "tensa",
    "tensa-two-child-stable": "tensa",
    "attic-one-child-stable": "attic",
}
"""Rules that lengthen a look once, and the grade that stayed."""
STABLE_FROM = 3
_ear = msgspec.json.Decoder(Ear)


@dataclass(frozen=True, slots=True)
class Evidence:
    """People in whom a grade stayed at three looks and was looked at again."""

    people: int
    worse: int
    """Of these, with a worse grade in any such ear at the next look that graded it."""

    def words(self) -> str:
        """Return it as a sentence."""
        if not self.people:
            return "Nobody as stable was looked at again here: nothing is known of it."
        low, high = (round(100 * share) for share in wilson(self.worse, self.people))
        return (
            f"Here {self.worse} of {self.people} people as stable were worse at their next look "
            f"({low} to {high} in 100)."
        )


def offers(session: Session, made: Plan, on: date) -> tuple[str, ...]:
    """Return where a plan's new looks may give way to *come back if*, with what is known."""
    found = []
    for line in lines_of(made):
        scale = SCALE_OF.get(line.dues[0].rule) if line.dues else None
        if scale is not None and line.asked_on == on:
            ears = ears_of(tuple(due.ear for due in line.dues))
            found.append(
                f"{ears.capitalize()}: no worse at three looks. Come back if it changes may be "
                f"offered instead, by striking {line.name} out. {evidence(session, scale).words()}"
            )
    return tuple(found)


def evidence(session: Session, scale: str) -> Evidence:
    """Return what became of people in whom the grade of one scale stayed at three looks."""
    worse: dict[int, bool] = {}
    for (person, _side), looks in _graded(session, scale).items():
        for is_worse in _after_stable(looks, scale):
            worse[person] = worse.get(person, False) or is_worse
    return Evidence(len(worse), sum(worse.values()))


def _after_stable(looks: Iterable[tuple[date, Ear]], scale: str) -> Iterator[bool]:
    """Yield whether the look after the third that stayed was worse, once for an ear."""
    course = Course()
    for on, ear in looks:
        grades: Grades = getattr(course, scale)
        was_stable = grades.stable >= STABLE_FROM
        course.see(ear, on, None)
        if was_stable:
            yield bool(grades.step and grades.step > 0)
            return


def _graded(session: Session, scale: str) -> dict[tuple[int, Side], list[tuple[date, Ear]]]:
    """Return the looks that graded an ear, of those looked at often enough, in order of day."""
    v, f = tables.Visit, tables.Findings
    wanted = (
        select(v.person_id, f.ear, v.on, f.content)
        .join_from(f, v, v.id == f.visit_id)
        .where(stands(v), f.content.contains(f'"{scale}_grade"', autoescape=True))
        .order_by(v.on, v.id)
    )
    texts: dict[tuple[int, Side], list[tuple[date, str]]] = defaultdict(list)
    for person, side, on, text in many(session, wanted):
        texts[person, side].append((on, text))
    return {
        key: [(on, _ear.decode(text)) for on, text in looks]
        for key, looks in texts.items()
        if len(looks) > STABLE_FROM
    }
