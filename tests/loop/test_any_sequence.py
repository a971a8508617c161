"""Whatever happens, in whatever order, nobody falls out.

A state machine does what a reception might do, on days that go forward, and checks after each
that an open follow-up has a next step, that nothing was closed by a rule, that no letter is
asked for twice in a round, and that "lost" is only said when everything was tried.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import get_args

import msgspec
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from recall.care.case import Urgency
from recall.loop.day import may_turn
from recall.loop.facts import (
    AddressChecked,
    Booked,
    BookingEnded,
    Contact,
    Decided,
    Ending,
    Event,
    GpTold,
    Held,
    Looked,
    Posted,
    Returned,
)
from recall.loop.lost import decisions, missing
from recall.loop.outcomes import Channel, OutcomeId
from recall.loop.status import status_on
from recall.loop.trail import read_trail
from recall.protocol.contact_steps import LETTER_STEPS
from tests.loop.tell import RULES, facts
from tests.seeds import examples

WINDOWS = st.tuples(st.integers(0, 200), st.integers(0, 60), st.integers(0, 60))
REACHING = {"phone", *LETTER_STEPS}


class Reception(RuleBasedStateMachine):
    """One follow-up, and everything that may happen to it."""

    @initialize(
        window=WINDOWS,
        urgency=st.sampled_from(get_args(Urgency)),
        born=st.dates(date(2008, 1, 1), date(2020, 12, 31)),
        channels=st.frozensets(st.sampled_from(["phone", "letter", "text", "email"])),
        agreed=st.sampled_from([None, True, False]),
    )
    def start(
        self,
        window: tuple[int, int, int],
        urgency: Urgency,
        born: date,
        channels: frozenset[Channel],
        agreed: bool | None,
    ) -> None:
        self.on = date(2026, 9, 1)
        earliest = self.on + timedelta(window[0])
        target = earliest + timedelta(window[1])
        self.facts = facts(
            earliest=earliest,
            target=target,
            latest=target + timedelta(window[2]),
            urgency=urgency,
            born=born,
            channels=channels,
            gp_agreed=agreed,
        )
        self.posted: set[tuple[int, str]] = set()

    def add(self, *events: Event) -> None:
        self.facts = self.facts.with_events(*events)

    @rule(days=st.integers(1, 60))
    def days_go_by(self, days: int) -> None:
        self.on += timedelta(days)

    @rule(steps=st.integers(1, 9))
    def the_next_steps_are_waited_for_and_done(self, steps: int) -> None:
        for _ in range(steps):
            self.do_next()

    def do_next(self) -> None:
        step = status_on(self.facts, self.on, RULES).step
        assert step is not None
        self.on = max(self.on, step.on)
        step = status_on(self.facts, self.on, RULES).step
        assert step is not None
        marks = {"list_look": Looked, "address_check": AddressChecked, "tell_gp": GpTold}
        if step.kind in LETTER_STEPS:
            self.post()
        elif mark := marks.get(step.kind):
            self.add(mark(on=self.on))
        elif step.kind == "phone":
            channel = "phone" if "phone" in self.facts.channels else "text"
            self.add(Contact(on=self.on, channel=channel, outcome="no_answer"))
        elif step.kind == "book_now":
            self.on += timedelta(1)
        elif step.kind in ("attend", "record_attendance"):
            self.booking_ends("was_not_brought")
        elif step.kind == "safeguarding":
            self.decide("carry_on")
        elif not step.used_up:
            self.decide("keep_trying")

    def post(self) -> None:
        step = status_on(self.facts, self.on, RULES).step
        assert step is not None
        assert (step.round, step.kind) not in self.posted, "a letter twice in a round"
        self.posted.add((step.round, step.kind))
        self.add(Posted(on=self.on, kind=step.kind))  # type: ignore[arg-type]

    @rule(
        channel=st.sampled_from(get_args(Channel)),
        outcome=st.sampled_from(get_args(OutcomeId)),
        days=st.none() | st.integers(1, 40),
        by_them=st.booleans(),
    )
    def contact(
        self, channel: Channel, outcome: OutcomeId, days: int | None, by_them: bool
    ) -> None:
        until = self.on + timedelta(days) if days else None
        self.add(
            Contact(on=self.on, channel=channel, outcome=outcome, until=until, by_them=by_them)
        )

    @rule()
    def the_last_letter_comes_back(self) -> None:
        letters = read_trail(self.facts, self.on).letters
        if letters:
            self.add(Returned(on=self.on, posted_on=letters[-1].on))

    @rule(days=st.integers(0, 60))
    def book(self, days: int) -> None:
        number = len(self.facts.events)
        self.add(Booked(on=self.on, booking=number, day=self.on + timedelta(days), why_late="x"))

    @rule(how=st.sampled_from(get_args(Ending)))
    def booking_ends(self, how: Ending) -> None:
        booked = read_trail(self.facts, self.on).booking
        if booked:
            self.add(BookingEnded(on=self.on, booking=booked.booking, how=how))

    @rule(days=st.integers(1, 60))
    def hold(self, days: int) -> None:
        self.add(Held(on=self.on, until=self.on + timedelta(days), why="abroad"))

    @rule()
    def the_address_is_checked(self) -> None:
        self.add(AddressChecked(on=self.on))

    @rule(what=st.sampled_from(["carry_on", "keep_trying"]))
    def decide(self, what: str) -> None:
        self.add(Decided(on=self.on, what=what))  # type: ignore[arg-type]

    @invariant()
    def a_step_that_may_not_turn_stays_while_nothing_happens(self) -> None:
        """What a list kept is as good later as what it would work out anew (loop/day.py)."""
        if not hasattr(self, "facts"):
            return
        now = status_on(self.facts, self.on, RULES)
        if now.step is None or may_turn(now.step.kind):
            return
        for days in (1, 2, 7, 30, 90, 400, 4000):
            later = status_on(self.facts, self.on + timedelta(days), RULES)
            assert later.step is not None
            assert (later.step.kind, later.step.on) == (now.step.kind, now.step.on)
            assert (later.urgency, later.step.used_up) == (now.urgency, False)

    @invariant()
    def there_is_a_next_step_with_a_day_and_a_reason(self) -> None:
        stands = status_on(self.facts, self.on, RULES)
        assert stands.word != "closed"
        assert stands.step is not None
        assert stands.next_step_on is not None
        assert stands.next_step_on >= self.facts.asked_on
        assert stands.why

    @invariant()
    def a_step_leaves_time_for_what_was_just_tried(self) -> None:
        step = status_on(self.facts, self.on, RULES).step
        calls = [e for e in self.facts.events if isinstance(e, Contact)]
        if step and calls and step.kind in {"invitation", "reminder", "last_letter"}:
            assert step.on >= calls[-1].on

    @invariant()
    def lost_is_said_only_when_everything_was_tried(self) -> None:
        if status_on(self.facts, self.on, RULES).word == "lost":
            assert missing(self.facts, self.on, RULES) == ()

    @invariant()
    def nobody_is_rung_or_written_to_who_must_not_be(self) -> None:
        step = status_on(self.facts, self.on, RULES).step
        if step and read_trail(self.facts, self.on).contact_stopped:
            assert step.kind not in REACHING

    @invariant()
    def somebody_may_always_decide(self) -> None:
        allowed = {c.id for c in decisions(self.facts, self.on, RULES) if c.allowed}
        assert {"keep_trying", "other_reason"} <= allowed

    @invariant()
    def the_past_does_not_know_the_future(self) -> None:
        before = self.on - timedelta(7)
        known = tuple(e for e in self.facts.events if e.on <= before)
        earlier = msgspec.structs.replace(self.facts, events=known)
        assert status_on(self.facts, before, RULES) == status_on(earlier, before, RULES)


TestReception = Reception.TestCase
TestReception.settings = settings(max_examples=examples(40), stateful_step_count=15)
