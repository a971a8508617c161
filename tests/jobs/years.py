"""An invented practice that lives day by day: people come, stay away, move, die, are born.

Everything goes through the desk's own functions and the jobs' own runner. The machine goes off
at random commits, and on some days it is not on at all.
"""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, event, insert, select
from sqlalchemy.orm import Session

from recall.care.case import Visit
from recall.care.ear import Ear
from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.core.session import Desk
from recall.desk.people import deaths
from recall.desk.plans import decisions
from recall.desk.plans.decisions import Decided
from recall.desk.post.posting import batches, mark_posted, mark_returned
from recall.desk.post.showing import preview
from recall.desk.referrals import progress
from recall.desk.referrals.progress import News
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance
from recall.desk.worklists import lists
from recall.desk.worklists.day_list import Part
from recall.desk.worklists.queue_lines import queue_lines
from recall.desk.worklists.referral_list import referrals
from recall.errors import RecallError
from recall.jobs.running import run_all
from recall.records import tables
from recall.records.people.finding import rekey
from tests import registers
from tests.desk.practice import CLEAR, FLUID, KERATIN
from tests.jobs.making import clock_at

WAX = Ear(wax_found="occluding", wax_left="none", clearance="cleared", drum_seen="full")
NO_VIEW = Ear(wax_found="occluding", wax_left="occluding", clearance="failed", drum_seen="none")
OUTCOMES = (
    *("no_answer",) * 6,
    *("left_message",) * 3,
    *("book",) * 9,
    "will_call_back",
    "call_again_on",
    "wants_letter",
    "declines",
    "cannot_afford",
    "seen_elsewhere",
    "too_ill",
    "wrong_number",
    "moved",
    "do_not_contact",
    "not_safe",
    "worse",
)


class Crash(BaseException):
    """The machine went off."""


@dataclass
class Practice:
    """The practice, its staff's pace and its luck."""

    desk: Desk
    luck: random.Random
    calls_a_day: int = 6
    people: int = 0
    crashes: int = 0
    done: dict[str, int] = field(default_factory=dict)
    as_they_were: dict[date, Path] = field(default_factory=dict)
    """The register as it was when each month ended, by the month's last day."""

    def at(self, day: date, hour: int, by: str) -> Desk:
        """The desk of somebody at an hour of a day."""
        return replace(self.desk, clock=clock_at(day, hour)).acting_as(by)

    def chance(self, share: float) -> bool:
        """Something that happens so often."""
        return self.luck.random() < share

    def count(self, what: str) -> None:
        """Note that something happened."""
        self.done[what] = self.done.get(what, 0) + 1

    def live(self, start: date, days: int) -> date:
        """Live so many days; return the day after the last."""
        off_until = start
        for n in range(days):
            day = start + timedelta(days=n)
            if day.day == 1 and n:
                self._keep_as_it_was(day - timedelta(days=1))
            if self.chance(0.01):
                off_until = day + timedelta(days=self.luck.randint(1, 9))
            if day >= off_until:
                self._jobs(day, 6)
            if day.weekday() < 5:
                self._work(day)
            if day >= off_until:
                self._jobs(day, 21)
        last = start + timedelta(days=days)
        self._quietly(lambda: run_all(self.at(last, 23, "jobs")))
        return last

    def _keep_as_it_was(self, last: date) -> None:
        source = self.desk.store.path
        copy = source.with_name(f"as-on-{last}.db")
        held = registers.as_file(source)
        with closing(sqlite3.connect(held)) as here, closing(sqlite3.connect(copy)) as there:
            here.backup(there)
        self.as_they_were[last] = copy

    def _jobs(self, day: date, hour: int) -> None:
        """Start the runner, which may be cut off, and an hour later start it again."""
        cut_off = self.chance(0.15)
        with suppress(Crash):
            with self._going_off(cut_off):
                self._run(day, hour)
            return
        self.crashes += 1
        self._run(day, hour + 1)

    def _run(self, day: date, hour: int) -> None:
        for ran in run_all(self.at(day, hour, "jobs")):
            if ran.cause is not None:
                raise ran.cause
            self.count(f"{ran.job} {ran.state}")

    @contextmanager
    def _going_off(self, really: bool) -> Iterator[None]:
        """Go off just before or just after some commit."""
        if not really:
            yield
            return
        left = self.luck.randint(1, 12)

        def off(*_: object) -> None:
            nonlocal left
            left -= 1
            if left == 0:
                raise Crash

        where: tuple[Any, str] = self.luck.choice([(Engine, "commit"), (Session, "after_commit")])
        event.listen(*where, off)
        try:
            yield
        finally:
            event.remove(*where, off)

    def _work(self, day: date) -> None:
        """One working day of the staff, at the pace that they can keep."""
        with self._off_at_work(), suppress(Crash):
            for work in (self._arrive, self._appointments, self._queue, self._clinician):
                work(day)
            for work in (self._referrals, self._post, self._fate):
                work(day)

    @contextmanager
    def _off_at_work(self) -> Iterator[None]:
        with suppress(Crash), self._going_off(self.chance(0.03)):
            yield

    def _quietly(self, act: Callable[[], Any]) -> bool:
        """Do what the desk may refuse; say whether it did it."""
        try:
            act()
        except RecallError:
            return False
        return True

    def _ears(self) -> dict[str, Ear]:
        pick = self.luck.choice
        return {side: pick((CLEAR, CLEAR, FLUID, WAX, NO_VIEW)) for side in ("right", "left")}

    def _see(self, day: date, ref: str, ears: dict[str, Ear], hour: int = 11) -> bool:
        desk = self.at(day, hour, "clara")

        def close() -> None:
            given = draft(desk, ref, Visit(on=day, examiner="clara", **ears))
            close_visit(
                desk,
                given,
                Acceptance(looked=True, acknowledged_by="Clara Voss", arranged_with="Dr Sorrel"),
            )

        seen = self._quietly(close)
        self.count("seen" if seen else "not closed")
        return seen

    def _arrive(self, day: date) -> None:
        """Somebody new comes; some of them were born only lately."""
        if self.people >= self.most or not self.chance(0.4):
            return
        self.people += 1
        age = self.luck.choice((300, 2000, 3000, 5600, 12000, 20000, 28000))
        self.enter(day, f"W{self.people}", day - timedelta(days=age + self.luck.randint(0, 300)))
        ears = self._ears()
        if self.chance(0.05):
            ears["right"] = KERATIN
        self._see(day, f"W{self.people}", ears)

    most: int = 40

    def enter(self, day: date, ref: str, born: date) -> None:
        """Enter somebody into the register with an address and a number."""
        desk = self.at(day, 10, "rob")
        made = {"on": day, "recorded_at": desk.now, "by_id": desk.by.id, "recorded_no": 0}
        child = (day - born).days < 16 * 365
        with desk.store.write() as session:
            person = {"ref": ref, "given_names": "Wren", "family_name": f"Number{ref[1:]}"}
            row = insert(tables.Person.__table__).values(born=born, gp="Mill Surgery", **person)
            number = session.execute(row.values(**made).returning(tables.Person.id)).scalar_one()
            homes: list[int | None] = [None]
            if child:
                homes = [self._parent(session, number, made) for _ in range(1 + self.chance(0.2))]
            for place, adult in enumerate(homes, 1):
                self._reach(session, number, adult, place, made)
            rekey(session, [number])

    def _parent(self, session: Session, person: int, made: dict[str, Any]) -> int:
        row = insert(tables.AdultFor.__table__).values(
            person_id=person, name=f"Parent {person}", role="responsible_adult", **made
        )
        return int(session.execute(row.returning(tables.AdultFor.id)).scalar_one())

    def _reach(
        self, session: Session, person: int, adult: int | None, place: int, made: dict[str, Any]
    ) -> None:
        address = f"{person} Teasel Row {place}\nWrenfield"
        ways = [("address", address)] + [("phone", "+441632960321")] * self.chance(0.9)
        for kind, value in ways:
            postcode = "WR9 9ZX" if kind == "address" else None
            values = {"kind": kind, "raw": value, "value": value, "postcode": postcode}
            row = {"person_id": person, "adult_id": adult, **values, **made}
            session.execute(insert(tables.ContactPoint.__table__), row)

    def _appointments(self, day: date) -> None:
        """Those booked for today, or for a day on which nobody noted it, come or do not."""
        desk = self.at(day, 12, "rob")
        for number, starts, ref in self._open_bookings(desk, day):
            if self.chance(0.1):
                continue  # nobody writes it down today
            came = self.chance(0.75)
            if came and starts.date() == day and self._see(day, ref, self._ears(), 12):
                continue
            act = bookings.record_attended if came else bookings.record_missed
            self._quietly(lambda act=act, number=number: act(desk, number))  # type: ignore[misc]
            self.count("came" if came else "missed")

    def _open_bookings(self, desk: Desk, day: date) -> list[tuple[int, datetime, str]]:
        b, e, p = (t.__table__.c for t in (tables.Booking, tables.BookingEvent, tables.Person))
        over = select(e.id).where(e.booking_id == b.id, e.void_at.is_(None)).exists()
        end = datetime.combine(day + timedelta(days=1), time.min)
        wanted = select(b.id, b.starts_local, p.ref).join(
            tables.Person.__table__, p.id == b.person_id
        )
        with desk.store.read() as session:
            rows = session.execute(wanted.where(b.starts_local < end, b.void_at.is_(None), ~over))
            return [(number, starts, ref) for number, starts, ref in rows]

    def _queue(self, day: date) -> None:
        """Reception works the most pressing lines, as many as there is time for."""
        desk = self.at(day, 14, "rob")
        for line in (
            *queue_lines(desk, Part(self.calls_a_day)),
            *lists.for_clinician(desk, Part(self.calls_a_day)),
        ):
            self.count(f"step {line.step}")
            self._take(desk, day, line)

    def _take(self, desk: Desk, day: date, line: Any) -> None:
        number = line.follow_up_id
        todo: dict[str, Callable[[], Any]] = {
            "address_check": lambda: contacting.address_checked(
                desk, number, None, "by the GP's list", still_there=True
            ),
            "tell_gp": lambda: contacting.gp_told(desk, number, None, "by letter"),
            "list_look": lambda: contacting.looked(self.at(day, 14, "clara"), [number]),
            "record_attendance": lambda: None,
            "type_visit": lambda: (
                self.chance(0.7) and self._see(day, line.reference, self._ears(), 14)
            ),
            "book_now": lambda: self.chance(0.3) and self._book(desk, day, line),
            "phone": lambda: self._call(desk, day, line),
        }
        if line.step in todo:
            self._quietly(todo[line.step])
        elif line.step in ("decision", "clinician_call", "safeguarding", "ask_result"):
            self._quietly(lambda: self._decide(day, line))

    def _call(self, desk: Desk, day: date, line: Any) -> None:
        outcome = self.luck.choice(OUTCOMES)
        if outcome == "book":
            self._book(desk, day, line)
            return
        until = day + timedelta(days=5) if outcome in ("call_again_on", "too_ill") else None
        contacting.log_contact(
            desk, line.follow_up_id, None, Attempt("phone", outcome, until=until)
        )

    def _book(self, desk: Desk, day: date, line: Any) -> None:
        on = max(line.latest - timedelta(days=self.luck.randint(0, 20)), day + timedelta(days=1))
        while not desk.calendar.is_open(on):
            on += timedelta(days=1)
        starts = datetime.combine(on, time(9 + self.luck.randint(0, 7)))
        bookings.book(
            desk,
            line.follow_up_id,
            None,
            Booking(starts, why_late="no earlier time", channel="phone"),
        )

    def _clinician(self, day: date) -> None:
        for line in lists.lost(self.at(day, 15, "mina"), Part(3)):
            self._quietly(lambda line=line: self._decide(day, line))  # type: ignore[misc]

    def _decide(self, day: date, line: Any) -> None:
        words = ["carry_on", "keep_trying", "keep_trying", "hand_back", "informed_decline"]
        what = self.luck.choice(words)
        desk = self.at(day, 15, "clara")
        decisions.decide(
            desk, [line.follow_up_id], Decided(what, "as talked over", considered=True)
        )
        self.count(what)

    def _referrals(self, day: date) -> None:
        desk = self.at(day, 16, "clara")
        for line in referrals(desk, Part(3)):
            number = line.referral_id
            steps: dict[str, Callable[[], Any]] = {
                "gp_acted": lambda n=number: progress.record(desk, n, None, News("gp_acted")),
                "sent": lambda n=number: progress.sent(desk, n, None, whom="the office"),
                "accepted": lambda n=number: progress.accepted(desk, n, None),
                "seen": lambda n=number: progress.seen(desk, n, None),
                "result": lambda n=number: progress.result(desk, n, None, "seen and treated"),
            }
            if self.chance(0.8) and line.stage in steps:
                self._quietly(steps[line.stage])
            else:
                self._quietly(lambda n=number: progress.carry_on(desk, n, None, "asked again"))

    def _post(self, day: date) -> None:
        """Somebody takes the printed letters to the post; some come back."""
        desk = self.at(day, 17, "mina")
        for batch in batches(desk, 3):
            if batch.printed_at is not None and batch.posted_on is None and self.chance(0.8):
                self.count("pulled") if mark_posted(desk, batch.number) else None
            elif batch.posted_on is not None and self.chance(0.05):
                posted = [one for one in preview(desk, batch.number) if one.state == "posted"]
                if posted:
                    letter = self.luck.choice(posted)
                    self._quietly(lambda n=letter.number: mark_returned(desk, n))  # type: ignore[misc]
                    self.count("returned")

    def _fate(self, day: date) -> None:
        """Somebody dies; it is heard of at the desk."""
        if not self.people or not self.chance(0.006):
            return
        number = self.luck.randint(1, self.people)
        desk = self.at(day, 17, self.luck.choice(("rob", "clara")))
        name = f"Wren Number{number}"
        if self._quietly(lambda: deaths.record_death(desk, f"W{number}", day, name)):
            self.count("died")
