"""What the desk tried: letters, calls and appointments, kept, missed and still to come."""

import random
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from making import DEMO_DAY, GIVEN_UP_FROM, GIVEN_UP_TO, LOST, SEED, WENT_LIVE
from making.course import Course, Visit, workday
from making.lately import pressing
from making.people import Home
from making.rows import Booking, Contact
from recall.schedule.plan import FollowUp, Plan

OUTCOMES = {
    "no_answer": 8,
    "left_message": 6,
    "will_call_back": 3,
    "somebody_else_answered": 2,
    "wrong_number": 2,
    "wants_letter": 1,
    "away": 1,
    "declines": 1,
    "cannot_afford": 1,
    "moved": 1,
}
"""What comes of a call to somebody who has not come, and how often."""
CALLED_FOR = timedelta(days=400)
"""How far back the desk's own notes go."""


BOOKED = 0.5
"""Share of the homes that were written to that have an appointment; no care home has one yet."""
TODAY = 0.25
"""Share of those who may come from now on who come on the first day."""
SPOKE = (*("call_again_on",) * 6, *("will_call_back",) * 2, "wants_clinician")
SPOKEN_TO = 0.15
"""What some said who were rung last week, and how many of those who are not booked."""
ROUND_SPOKEN_OF = DEMO_DAY - timedelta(days=5)
"""The day on which the managers of the care homes were rung."""


def is_booked(home: Home) -> bool:
    """Return whether those of one home who were written to have an appointment."""
    by_home = random.Random(f"{SEED} {home.lines} {home.postcode}")
    return not home.is_care_home and by_home.random() < BOOKED


class Desk:
    """Writes down what was tried for each course; the references of bookings count up."""

    def __init__(self) -> None:
        self.contacts: list[Contact] = []
        self.bookings: list[Booking] = []
        self.rng = random.Random(f"{SEED} desk")
        self._taken: set[tuple[date, str, str]] = set()
        self._lost = 0

    def work(self, courses: Sequence[Course], plans: Mapping[str, Plan]) -> None:
        """Go through all courses, with what the program asks of each."""
        for course in courses:
            for day in course.missed:
                self.missed(course, day)
            for visit in course.visits[1:]:
                self.kept(course, visit)
            plan = plans.get(course.person.ref)
            if plan and plan.follow_ups and not course.person.deceased_on:
                self.chase(course, pressing(course, plan))

    def contact(self, course: Course, on: date, channel: str, outcome: str, note: str = "") -> None:
        """Write one attempt down, if it lies in the time that the desk's notes go back to."""
        on = workday(on)
        if not max(DEMO_DAY - CALLED_FOR, course.visits[-1].on) < on < DEMO_DAY:
            return
        rng = self.rng
        at = f"{rng.randint(9, 16):02d}:{rng.randint(0, 59):02d}" if channel == "phone" else ""
        again = on + timedelta(days=rng.randint(7, 40)) if outcome == "away" else None
        if outcome == "call_again_on":
            again = DEMO_DAY
        person = course.person.ref
        self.contacts.append(Contact(person, on, at, channel, outcome, again, note=note))

    def booking(self, course: Course, on: date, status: str, note: str = "") -> None:
        """Write one appointment down, at a time that is free."""
        while True:
            at = f"{self.rng.randint(9, 16):02d}:{self.rng.choice((0, 20, 40)):02d}"
            seen_by = self.rng.choice(("A. Quill", "M. Osei"))
            if (on, at, seen_by) not in self._taken:
                break
        self._taken.add((on, at, seen_by))
        ref = f"B{7001 + len(self.bookings)}"
        self.bookings.append(Booking(ref, course.person.ref, on, at, status, seen_by, note))

    def kept(self, course: Course, visit: Visit) -> None:
        """Write down the appointments that were kept in the last months."""
        if DEMO_DAY - timedelta(days=120) < visit.on:
            self.booking(course, visit.on, "attended")

    def missed(self, course: Course, on: date) -> None:
        """Write down an appointment that was missed or cancelled, and the letter after it."""
        if not DEMO_DAY - CALLED_FOR <= on < DEMO_DAY or any(v.on == on for v in course.visits):
            return
        child = course.person.age_on(on) < 16
        status = "was_not_brought" if child else "did_not_attend"
        if self.rng.random() < 0.25:
            status = self.rng.choice(("cancelled_by_person", "cancelled_by_practice"))
        self.booking(course, on, status)
        if self.rng.random() < 0.7:
            self.contact(course, on + timedelta(days=2), "letter", "message_sent")

    def chase(self, course: Course, due: FollowUp) -> None:
        """Write down what was tried for the visit that is still open."""
        asked = max(due.earliest - timedelta(days=14), course.visits[-1].on)
        if asked > DEMO_DAY - timedelta(days=8):
            return
        if GIVEN_UP_FROM <= due.latest <= GIVEN_UP_TO and self._lost < LOST:
            self._lost += 1
            self.given_up(course, due)
        elif due.latest < DEMO_DAY or course.person.objected_on:
            self.tried(course, due)
        elif is_booked(course.person.home):
            self.ahead(course, due, asked)
        else:
            self.tried(course, due)
            if course.person.home.is_care_home:
                says = "The manager: ring on Monday about all of them."
                self.contact(course, ROUND_SPOKEN_OF, "phone", "call_again_on", says)
            elif self.rng.random() < SPOKEN_TO:
                days = self.rng.choice((3, 4, 5, 6))
                spoke = self.rng.choice(SPOKE)
                self.contact(course, DEMO_DAY - timedelta(days=days), "phone", spoke)

    def ahead(self, course: Course, due: FollowUp, asked: date) -> None:
        """Write down that they were written to, and are booked."""
        rng = self.rng
        start, until = max(due.earliest, DEMO_DAY), max(due.latest, DEMO_DAY)
        far = min((until - start).days, 4 if due.target <= DEMO_DAY else 24)
        today = start == DEMO_DAY and rng.random() < TODAY
        on = workday(start + timedelta(days=0 if today else rng.randint(0, far)))
        self.contact(course, asked, "letter", "message_sent")
        since = max(asked + timedelta(days=1), DEMO_DAY - timedelta(days=21))
        last = DEMO_DAY - timedelta(days=3)
        when = since + timedelta(days=rng.randint(0, max(0, (last - since).days)))
        self.contact(course, when, "phone", "booked")
        self.booking(course, on, "made")

    def tried(self, course: Course, due: FollowUp) -> None:
        """Write down letters and calls to somebody who has not come, more the later they are."""
        rng = self.rng
        until = DEMO_DAY if due.latest >= WENT_LIVE else WENT_LIVE
        invited = max(due.earliest - timedelta(days=14), course.visits[-1].on + timedelta(days=1))
        self.contact(course, invited, "letter", "message_sent")
        late = (until - due.target).days
        for after in (0, 3, 12):
            if late > after and rng.random() < 0.75:
                outcome = rng.choices(tuple(OUTCOMES), tuple(OUTCOMES.values()))[0]
                note = "Spoke to the neighbour." if outcome == "moved" else ""
                self.contact(course, due.target + timedelta(days=after), "phone", outcome, note)
        if due.latest + timedelta(days=7) < until:
            self.contact(course, due.latest + timedelta(days=2), "letter", "message_sent")

    def given_up(self, course: Course, due: FollowUp) -> None:
        """Write down all that is done before somebody may be called lost."""
        half = due.target + (due.latest - due.target) / 2
        invited = max(due.earliest - timedelta(days=14), course.visits[-1].on + timedelta(days=1))
        for on in (invited, half, due.latest + timedelta(days=1)):
            self.contact(course, on, "letter", "message_sent")
        for days in (0, 3, 8):
            self.contact(course, due.target + timedelta(days=days), "phone", "no_answer")
        checked, on = "The surgery has the same one.", due.latest + timedelta(days=4)
        self.contact(course, on, "phone", "no_answer")
        self.contact(course, on + timedelta(days=3), "phone", "address_checked", checked)
        self.contact(course, on + timedelta(days=6), "letter", "gp_told")
