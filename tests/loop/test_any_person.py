"""Whatever happens to one person, an act counts for all in reach and for nothing else.

A state machine rings, writes to and books one person about whom several things are open, on
days that go forward. What each thing was tried by is counted again from a diary of acts that
knows nothing of the loop: the window, eight weeks, two weeks, two ways (common practice).
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import get_args

import msgspec
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from recall.care.case import URGENCIES, Urgency
from recall.loop.facts import (
    AddressChecked,
    Booked,
    BookingEnded,
    Contact,
    Decided,
    Facts,
    Held,
    Posted,
)
from recall.loop.outcomes import BY_ID, OutcomeId
from recall.loop.reach import (
    contact_is_about,
    in_reach,
    letter_counts,
    letter_does,
    met_by,
    put_off_too,
    reached,
)
from recall.loop.status import status_on
from recall.loop.trail import read_trail
from tests.loop.tell import RULES, facts
from tests.seeds import examples

PICK = st.integers(0, 9)
WINDOW = st.tuples(st.integers(0, 400), st.integers(0, 60), st.integers(0, 60))
PRESSES = ("emergency", "urgent")


class Person(RuleBasedStateMachine):
    """One person with two to four things that are open."""

    @initialize(
        asks=st.lists(st.tuples(WINDOW, st.sampled_from(get_args(Urgency))), min_size=2, max_size=4)
    )
    def start(self, asks: list[tuple[tuple[int, int, int], Urgency]]) -> None:
        self.on = date(2026, 9, 1)
        self.tracks: dict[int, Facts] = {}
        self.diary: dict[int, list[tuple[date, str]]] = {}
        self.letters: set[tuple[int, int, str]] = set()
        self.bookings = 0
        for number, (window, urgency) in enumerate(asks, 1):
            self.ask(number, window, urgency)

    def ask(self, number: int, window: tuple[int, int, int], urgency: Urgency) -> None:
        earliest = self.on + timedelta(window[0])
        target = earliest + timedelta(window[1])
        latest = target + timedelta(window[2])
        days = {"earliest": earliest, "target": target, "latest": latest}
        self.tracks[number] = facts(asked_on=self.on, urgency=urgency, **days)
        self.diary[number] = []

    def add(self, number: int, *events: object) -> None:
        self.tracks[number] = self.tracks[number].with_events(*events)  # type: ignore[arg-type]

    def near(self, number: int) -> bool:
        """In reach, told without the loop: the window, the first step of each run, the next."""
        known = self.tracks[number]
        step = status_on(known, self.on, RULES).step
        opens = known.earliest - timedelta(weeks=8) <= self.on
        at_the_visit = known.urgency in PRESSES or known.latest <= known.asked_on + timedelta(70)
        return opens or at_the_visit or (step is not None and step.on <= self.on)

    def named(self, pick: int) -> int:
        return sorted(self.tracks)[pick % len(self.tracks)]

    @rule(days=st.integers(1, 60))
    def days_go_by(self, days: int) -> None:
        self.on += timedelta(days)

    @rule(window=WINDOW, urgency=st.sampled_from(get_args(Urgency)))
    def something_new_is_asked(self, window: tuple[int, int, int], urgency: Urgency) -> None:
        if len(self.tracks) < 6:
            self.ask(len(self.tracks) + 1, window, urgency)

    @rule(pick=PICK)
    def something_joins_late(self, pick: int) -> None:
        number = self.named(pick)
        joined = self.on + timedelta(days=1)
        self.tracks[number] = msgspec.structs.replace(self.tracks[number], joined_on=joined)
        self.diary[number] = []

    @rule(pick=PICK, outcome=st.sampled_from([*get_args(OutcomeId), *["no_answer"] * 8]))
    def ring(self, pick: int, outcome: OutcomeId) -> None:
        named, found = self.named(pick), BY_ID[outcome]
        near = {n for n in self.tracks if self.near(n)}
        about = contact_is_about(found, self.tracks, named, self.on, RULES)
        assert set(about) == ({named} if found.about == "one" else near | {named})
        waits = put_off_too(found, self.tracks, about)
        for number in about:
            self.add(number, Contact(on=self.on, channel="phone", outcome=outcome))
            if found.counts:
                self.diary[number].append((self.on, "phone"))
        for number in waits:
            before = status_on(self.tracks[number], self.on, RULES)
            self.add(number, Held(on=self.on, until=self.on + timedelta(found.wait), why="away"))
            after = status_on(self.tracks[number], self.on, RULES)
            assert before.step and after.step
            assert after.step.on >= before.step.on

    @rule(pick=PICK)
    def write(self, pick: int) -> None:
        """The next letter of one, whenever it is due; it does the others' next letter as well."""
        named = self.named(pick)
        step = status_on(self.tracks[named], self.on, RULES).step
        does = letter_does(self.tracks[named], self.on, RULES)
        if does is None or step is None or step.on > self.on or step.kind != does.kind:
            return
        also = letter_counts(self.tracks, named, self.on, RULES)
        assert set(also) <= {n for n in self.tracks if self.near(n)} - {named}
        for number, done in {named: does, **also}.items():
            key = number, done.round, done.kind
            assert key not in self.letters, "a letter step twice in a round"
            self.letters.add(key)
            self.skips_nothing(number, done.kind)
            self.add(number, Posted(on=self.on, kind=done.kind))
            self.diary[number].append((self.on, "letter"))

    def skips_nothing(self, number: int, kind: str) -> None:
        """A letter of the run goes out only after those that the run has before it."""
        known = self.tracks[number]
        trail = read_trail(known, self.on)
        again = trail.round_on is not None
        run = RULES.run_for(known.urgency, again, known.asked_on, known.latest)
        letters = [s.kind for s in run.steps if s.kind in ("invitation", "reminder", "last_letter")]
        if kind in letters:
            sent = {letter.kind for letter in trail.letters}
            before = letters[: letters.index(kind)]
            later = set(letters[letters.index(kind) :])
            assert set(before) <= sent or sent & later

    @rule(pick=PICK, days=st.integers(0, 90))
    def book(self, pick: int, days: int) -> None:
        named, day = self.named(pick), self.on + timedelta(days)
        if read_trail(self.tracks[named], self.on).booking:
            return
        found = met_by(self.tracks, named, day, self.on, RULES)
        for number in found.met[1:]:
            known, first = self.tracks[number], self.tracks[named]
            no_more = URGENCIES.index(known.urgency) >= URGENCIES.index(first.urgency)
            with_it = first.latest < day and known.earliest <= day and no_more
            in_time = known.earliest <= day <= known.latest
            assert in_time or known.latest < self.on or with_it
        for number in found.not_met:
            assert in_reach(self.tracks[number], self.on, RULES)
            assert number not in found.met
        self.bookings += 1
        for number in found.met:
            self.add(number, Booked(on=self.on, booking=self.bookings, day=day, why_late="x"))

    @rule(pick=PICK, how=st.sampled_from(["attended", "was_not_brought", "cancelled_by_practice"]))
    def booking_ends(self, pick: int, how: str) -> None:
        booked = read_trail(self.tracks[self.named(pick)], self.on).booking
        if booked is None:
            return
        for number, known in self.tracks.items():
            mine = read_trail(known, self.on).booking
            if mine and mine.booking == booked.booking:
                self.add(number, BookingEnded(on=self.on, booking=mine.booking, how=how))  # type: ignore[arg-type]
                if how == "attended":
                    self.diary[number] = []

    @rule(pick=PICK)
    def the_address_is_checked(self, pick: int) -> None:
        for number in reached(self.tracks, self.named(pick), self.on, RULES):
            self.add(number, AddressChecked(on=self.on))

    @rule(pick=PICK)
    def a_clinician_decides(self, pick: int) -> None:
        number = self.named(pick)
        self.add(number, Decided(on=self.on, what="keep_trying"))
        self.diary[number] = []

    @invariant()
    def nobody_is_lost_on_what_was_about_something_else(self) -> None:
        for number, known in getattr(self, "tracks", {}).items():
            if status_on(known, self.on, RULES).word != "lost":
                continue
            first = max(known.earliest - timedelta(weeks=2), known.joined_on or known.asked_on)
            own = [way for on, way in self.diary[number] if on >= first]
            assert len(own) >= 2 and len(set(own)) >= 2

    @invariant()
    def the_diary_and_the_loop_agree_on_what_was_tried(self) -> None:
        for number, known in getattr(self, "tracks", {}).items():
            first = max(known.earliest - timedelta(weeks=2), known.joined_on or known.asked_on)
            own = sorted((on, way) for on, way in self.diary[number] if on >= first)
            tried = sorted((on, way) for way, on in read_trail(known, self.on).attempts)
            assert tried == own


TestPerson = Person.TestCase
TestPerson.settings = settings(max_examples=examples(60), stateful_step_count=20)
