"""What the desk tried: letters, calls and appointments, kept, missed and still to come."""

import random
from dataclasses import dataclass
from datetime import date, timedelta

from making import DEMO_DAY, SEED
from making.course import Course, Visit, workday

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


@dataclass(frozen=True)
class Contact:
    """One attempt to reach a person."""

    person: str
    on: date
    at: str
    channel: str
    outcome: str
    call_on: date | None = None
    by: str = "R. Thackray"
    note: str = ""


@dataclass(frozen=True)
class Booking:
    """One appointment in the book."""

    ref: str
    person: str
    on: date
    at: str
    status: str
    seen_by: str = ""
    note: str = ""


class Desk:
    """Writes down what was tried for each course; the references of bookings count up."""

    def __init__(self) -> None:
        self.contacts: list[Contact] = []
        self.bookings: list[Booking] = []
        self.rng = random.Random(f"{SEED} desk")

    def work(self, courses: list[Course]) -> None:
        """Go through all courses."""
        for course in courses:
            for day in course.missed:
                self.missed(course, day)
            for visit in course.visits[1:]:
                self.kept(course, visit)
            if course.open_due and not course.person.deceased_on:
                self.chase(course, course.open_due)

    def contact(self, course: Course, on: date, channel: str, outcome: str, note: str = "") -> None:
        """Write one attempt down, if it lies in the time that the desk's notes go back to."""
        on = workday(on)
        if not DEMO_DAY - CALLED_FOR < on < DEMO_DAY:
            return
        rng = self.rng
        at = f"{rng.randint(9, 17):02d}:{rng.randint(0, 59):02d}" if channel == "phone" else ""
        again = on + timedelta(days=rng.randint(7, 40)) if outcome == "away" else None
        person = course.person.ref
        self.contacts.append(Contact(person, on, at, channel, outcome, again, note=note))

    def booking(self, course: Course, on: date, status: str, note: str = "") -> None:
        """Write one appointment down."""
        rng = self.rng
        at = f"{rng.randint(9, 16):02d}:{rng.choice((0, 20, 40)):02d}"
        ref = f"B{7001 + len(self.bookings)}"
        seen_by = rng.choice(("A. Quill", "M. Osei"))
        self.bookings.append(Booking(ref, course.person.ref, on, at, status, seen_by, note))

    def kept(self, course: Course, visit: Visit) -> None:
        """Write down the appointments that were kept in the last months."""
        if DEMO_DAY - timedelta(days=120) < visit.on:
            self.booking(course, visit.on, "attended")

    def missed(self, course: Course, on: date) -> None:
        """Write down an appointment that was missed or cancelled, and the letter after it."""
        if on < DEMO_DAY - CALLED_FOR or on >= DEMO_DAY:
            return
        child = course.person.age_on(on) < 16
        status = "was_not_brought" if child else "did_not_attend"
        if self.rng.random() < 0.25:
            status = self.rng.choice(("cancelled_by_person", "cancelled_by_practice"))
        self.booking(course, on, status)
        if self.rng.random() < 0.7:
            self.contact(course, on + timedelta(days=2), "letter", "message_sent")

    def chase(self, course: Course, due: date) -> None:
        """Write down what was tried for the visit that is still open."""
        rng = self.rng
        if due > DEMO_DAY + timedelta(days=60):
            return
        if rng.random() < (0.5 if due >= DEMO_DAY else 0.12):
            self.ahead(course, due)
            return
        if due < DEMO_DAY and rng.random() < 0.92:
            self.tried(course, due)

    def ahead(self, course: Course, due: date) -> None:
        """Write down that they are booked."""
        on = workday(max(due, DEMO_DAY + timedelta(days=1)) + timedelta(days=rng_days(self.rng)))
        self.contact(course, DEMO_DAY - timedelta(days=rng_days(self.rng) + 3), "phone", "booked")
        self.booking(course, on, "made")

    def tried(self, course: Course, due: date) -> None:
        """Write down letters and calls to somebody who has not come, more the later they are."""
        rng = self.rng
        self.contact(course, due - timedelta(days=14), "letter", "message_sent")
        late = (DEMO_DAY - due).days
        for after in (7, 12, 26):
            if late > after and rng.random() < 0.75:
                outcome = rng.choices(tuple(OUTCOMES), tuple(OUTCOMES.values()))[0]
                note = "Spoke to the neighbour." if outcome == "moved" else ""
                self.contact(course, due + timedelta(days=after), "phone", outcome, note)
        if late > 35:
            self.contact(course, due + timedelta(days=33), "letter", "message_sent")
        if late > 56 and int(course.person.ref[1:]) % 2:
            self.given_up(course, due + timedelta(days=42))

    def given_up(self, course: Course, on: date) -> None:
        """Write down what is done before somebody may be called lost: more calls, the checks."""
        for _ in range(2):
            self.contact(course, on, "phone", "no_answer")
        self.contact(course, on, "phone", "address_checked", note="The surgery has the same one.")
        self.contact(course, on + timedelta(days=3), "letter", "gp_told")


def rng_days(rng: random.Random) -> int:
    """Return up to three weeks."""
    return rng.randint(0, 20)
