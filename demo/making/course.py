"""One person's visits in time: who comes, who does not, who falls out of sight."""

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta

from making import DEMO_DAY, FIRST_DAY
from making.ears import Wax
from making.names import EXAMINERS
from making.people import Person


@dataclass
class Visit:
    """One visit, in the words of the case file."""

    on: date
    examiner: str = ""
    reported: list = field(default_factory=list)
    right: dict = field(default_factory=dict)
    left: dict = field(default_factory=dict)
    category: str = ""
    note: str = ""
    back_in: int | None = None
    """Days until the practice wants to see them again; None for never."""

    def put(self, side: str, fields: dict) -> None:
        """Add fields to one ear."""
        getattr(self, side).update(fields)


@dataclass
class Course:
    """A person, their visits, and the appointments they missed."""

    person: Person
    visits: list[Visit] = field(default_factory=list)
    missed: list[date] = field(default_factory=list)
    look: "Look | None" = None
    """What is seen at one more visit."""


Look = Callable[[int, Visit], None]
"""Fills one visit in: its number (from 0) and the visit, whose `back_in` it may set."""


def workday(day: date) -> date:
    """Return the day, or the Monday after a weekend."""
    return day + timedelta(days=(0, 0, 0, 0, 0, 2, 1)[day.weekday()])


class Teller:
    """Tells the course of one person."""

    def __init__(self, rng: random.Random, person: Person) -> None:
        self.rng = rng
        self.person = person

    def start(self, within_days: int = 1000) -> date:
        """Return a first day somewhere in the three years, not before the first birthday."""
        day = FIRST_DAY + timedelta(days=self.rng.randint(0, within_days))
        return workday(max(day, self.person.born + timedelta(days=366)))

    def wax(self, start: date, months: float) -> Wax:
        """Return this person's wax."""
        return Wax(self.rng, start, months)

    def tell(self, start: date, look: Look, comes: float = 0.84, most: int = 14) -> Course:
        """Return the course: visits from `start` on until nothing is wanted, or they stay away."""
        course = Course(self.person, look=look)
        end = min(DEMO_DAY - timedelta(days=3), self.person.deceased_on or DEMO_DAY)
        day: date | None = start
        while day is not None and day <= end and len(course.visits) < most:
            visit = Visit(day, self.rng.choice(EXAMINERS))
            look(len(course.visits), visit)
            course.visits.append(visit)
            day = self.after(course, visit, comes)
        return course

    def after(self, course: Course, visit: Visit, comes: float) -> date | None:
        """Return the day they come again, noting what they miss; None if they do not."""
        rng = self.rng
        if visit.back_in is None:
            return None
        due = workday(visit.on + timedelta(days=visit.back_in))
        if rng.random() < comes:
            early = min(10, visit.back_in // 4)
            return workday(due + timedelta(days=rng.randint(-early, 5 + visit.back_in // 6)))
        if due < DEMO_DAY:
            course.missed.append(due)
        if rng.random() < 0.22:
            return None
        return workday(due + timedelta(days=rng.randint(14, 120)))
