"""Whatever the desk does, in whatever order: nobody falls out.

A state machine does what reception and clinicians might do, on days that go forward, on a real
register. After each action: every open follow-up has a next step with a day, as its facts say;
every ask of every visit is open and followed, or closed for a known reason; what closed by
anything but a visit was decided by somebody who may. The long form: RECALL_EXAMPLES=500.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from datetime import date, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any, get_args

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from sqlalchemy import select

from recall.care.ear import Ear
from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking, MoveTo
from recall.desk.core import undo as undoing
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe_plan
from recall.desk.people import deaths, editing
from recall.desk.plans import clinician_asks, decisions
from recall.desk.plans.decisions import Decided
from recall.desk.referrals import progress
from recall.desk.referrals.progress import News
from recall.desk.visits import care_elsewhere
from recall.desk.visits.care_elsewhere import CareElsewhere
from recall.desk.worklists.day_list import day_rows, everything, to_ring_on
from recall.errors import RecallError
from recall.loop.day import View, due_on
from recall.loop.facts import Contact
from recall.loop.outcomes import BY_ID, OutcomeId
from recall.loop.status import status_on
from recall.records import tables
from recall.records.database.store import open_store
from recall.records.database.upgrade import upgrade
from recall.records.facts.events import facts_for
from recall.records.tables import Staff
from recall.schedule.plan import RULE_REASONS
from tests.conftest import NOW
from tests.desk.practice import CLEAR, DAY, FLUID, KERATIN, desk_at, history_is_whole, rows
from tests.desk.practice import somebody as add_somebody
from tests.desk.practice import visit as add_visit
from tests.seeds import examples

EXAMPLES = examples(6)
WAX = Ear(wax_found="occluding", wax_left="occluding", clearance="failed", drum_seen="none")
EARS = st.sampled_from([None, FLUID, CLEAR, KERATIN, WAX])
PICK = st.integers(0, 9)
WHO = st.sampled_from(["rob", "clara", "mina"])


@lru_cache(maxsize=1)
def empty() -> Path:
    """An empty register, built by the migrations once."""
    path = Path(tempfile.mkdtemp(prefix="register-")) / "empty.db"
    upgrade(path, at=NOW)
    store = open_store(path)
    with store.write() as session:
        session.add_all(
            [
                Staff(handle="clara", name="Clara Voss", role="clinical_lead", title="Audiologist"),
                Staff(handle="rob", name="Rob Tanner", role="reception"),
                Staff(handle="mina", name="Mina Okello", role="manager"),
            ]
        )
    store.close()
    return path


class TheDesk(RuleBasedStateMachine):
    """A child and an adult, and everything that may happen to them."""

    @initialize(right=EARS, left=EARS)
    def start(self, right: Ear | None, left: Ear | None) -> None:
        self.folder = tempfile.TemporaryDirectory(prefix="register-")
        path = Path(self.folder.name) / "register.db"
        shutil.copyfile(empty(), path)
        self.store = open_store(path)
        self.on = DAY
        self.people = [
            add_somebody(self.desk(), "W1"),
            add_somebody(self.desk(), "W2", born=date(1960, 2, 29), adult=False),
        ]
        for number in self.people:
            self.see(number, right or FLUID, left)

    def teardown(self) -> None:
        if hasattr(self, "store"):
            assert history_is_whole(self.store)
            self.store.close()
            self.folder.cleanup()

    def desk(self, by: str = "rob") -> Desk:
        return desk_at(self.store, self.on, by)

    def see(self, number: int, right: Ear | None, left: Ear | None) -> None:
        seen = {side: ear for side, ear in (("right", right), ("left", left)) if ear is not None}
        add_visit(self.desk("clara"), number, **seen)

    def one(self, table: Any, pick: int, **where: Any) -> Any:
        """One of the rows, or None."""
        found = rows(self.store, table, **where)
        return found[pick % len(found)] if found else None

    def attempt(self, action: Callable[..., Any], *given: Any, **more: Any) -> None:
        """Do something; that it is refused in a sentence is fine, anything else is not."""
        try:
            action(*given, **more)
        except RecallError as refused:
            assert "Thackwell" not in str(refused)

    @rule(days=st.integers(1, 45))
    def days_go_by(self, days: int) -> None:
        self.on += timedelta(days)

    @rule(pick=PICK, who=WHO, outcome=st.sampled_from(get_args(OutcomeId)), theirs=st.booleans())
    def contact(self, pick: int, who: str, outcome: str, theirs: bool) -> None:
        row = self.one(tables.FollowUp, pick, is_open=True)
        if row is None:
            return
        before, near = self.contacts(), self.near(row["person_id"])
        given = Attempt("phone", outcome, by_them=theirs)
        self.attempt(contacting.log_contact, self.desk(who), row["id"], row["version"], given)
        after = self.contacts()
        told = {number for number in after if after[number] > before.get(number, 0)}
        alone = BY_ID[outcome].about == "one"  # type: ignore[index]
        assert told in (set(), {row["id"]} if alone else {row["id"], *near})

    def contacts(self) -> dict[int, int]:
        """How many contacts each open follow-up was told of."""
        numbers = [row["id"] for row in rows(self.store, tables.FollowUp, is_open=True)]
        with self.store.read() as session:
            known = facts_for(session, numbers)
        return {n: sum(isinstance(e, Contact) for e in f.events) for n, f in known.items()}

    def near(self, person_id: int) -> set[int]:
        """What is in reach, told by the window, the urgency and the next step alone."""
        mine = rows(self.store, tables.FollowUp, person_id=person_id, is_open=True)
        with self.store.read() as session:
            known = facts_for(session, [row["id"] for row in mine])
        found = set()
        for number, facts in known.items():
            step = status_on(facts, self.on, desk_at(self.store).protocol.contact).step
            opens = facts.earliest - timedelta(weeks=8) <= self.on
            at_once = facts.presses or facts.latest <= facts.asked_on + timedelta(weeks=10)
            if opens or at_once or (step is not None and step.on <= self.on):
                found.add(number)
        return found

    @rule(pick=PICK, days=st.integers(1, 60), who=WHO)
    def hold(self, pick: int, days: int, who: str) -> None:
        row = self.one(tables.FollowUp, pick, is_open=True)
        if row:
            until = self.on + timedelta(days)
            self.attempt(contacting.hold, self.desk(who), row["id"], None, "abroad", until)

    @rule(pick=PICK, there=st.sampled_from([True, False, None]))
    def check_address(self, pick: int, there: bool | None) -> None:
        row = self.one(tables.FollowUp, pick, is_open=True)
        if row:
            given = row["id"], None, "asked"
            self.attempt(contacting.address_checked, self.desk(), *given, still_there=there)

    @rule(pick=PICK, days=st.integers(0, 60), late=st.sampled_from(["", "abroad"]))
    def book(self, pick: int, days: int, late: str) -> None:
        row = self.one(tables.FollowUp, pick, is_open=True)
        if row:
            starts = datetime.combine(self.on + timedelta(days), datetime.min.time())
            booking = Booking(starts + timedelta(hours=10), why_late=late)
            self.attempt(bookings.book, self.desk(), row["id"], None, booking)

    @rule(pick=PICK, how=st.sampled_from(["attended", "missed", "person", "practice", "move"]))
    def booking_ends(self, pick: int, how: str) -> None:
        row = self.one(tables.Booking, pick)
        if row is None:
            return
        desk, number = self.desk(), row["id"]
        if how == "attended":
            self.attempt(bookings.record_attended, desk, number)
        elif how == "missed":
            self.attempt(bookings.record_missed, desk, number)
        elif how == "move":
            starts = row["starts_local"] + timedelta(days=7)
            to = MoveTo(starts, why_late="abroad")
            self.attempt(bookings.move, desk, number, to, "person")
        else:
            self.attempt(bookings.cancel, desk, number, how, "x")

    @rule(
        pick=PICK,
        who=WHO,
        decision=st.sampled_from(decisions.DECISIONS),
        considered=st.booleans(),
        days=st.integers(0, 100),
    )
    def decide(self, pick: int, who: str, decision: str, considered: bool, days: int) -> None:
        row = self.one(tables.FollowUp, pick, is_open=True)
        if row is None:
            return
        dates = None
        if decision == "move":
            first = self.on + timedelta(days)
            dates = decisions.Dates(first, first + timedelta(7), first + timedelta(30))
        decided = Decided(decision, "written down", considered, dates)
        self.attempt(decisions.decide, self.desk(who), [row["id"]], decided)

    @rule(
        pick=PICK,
        what=st.sampled_from(
            ["spoke", "sent", "accepted", "seen", "chased", "rejected", "decided"]
        ),
        who=WHO,
    )
    def referral_goes_on(self, pick: int, what: str, who: str) -> None:
        row = self.one(tables.Referral, pick, is_open=True)
        if row:
            given = row["id"], row["version"], News(what, reason="they wrote")
            self.attempt(progress.record, self.desk(who), *given)

    @rule(pick=PICK, follow=st.booleans(), who=WHO, known=st.booleans())
    def referral_ends(self, pick: int, follow: bool, who: str, known: bool) -> None:
        row = self.one(tables.Referral, pick, is_open=True)
        if row is None:
            return
        desk, number = self.desk(who), row["id"]
        if known:
            they_follow = progress.Followed() if follow else None
            self.attempt(progress.result, desk, number, None, "x", they_follow=they_follow)
        else:
            self.attempt(progress.close, desk, number, None, "transferred", "x")

    @rule(pick=PICK, right=EARS, left=EARS)
    def visit(self, pick: int, right: Ear | None, left: Ear | None) -> None:
        number = self.people[pick % 2]
        if rows(self.store, tables.Person, id=number)[0]["deceased_on"] is None:
            self.see(number, right, left)

    @rule(pick=PICK, risk=st.sampled_from(["down_syndrome", "hearing_aid", "cleft_palate"]))
    def risk(self, pick: int, risk: str) -> None:
        self.attempt(editing.add_risk, self.desk(), f"W{pick % 2 + 1}", risk)

    @rule(pick=PICK, who=WHO, what=st.sampled_from(["referral", "look", "care", "told"]))
    def between_visits(self, pick: int, who: str, what: str) -> None:
        desk, ref = self.desk(who), f"W{pick % 2 + 1}"
        if what == "referral":
            self.attempt(
                clinician_asks.ask_referral, desk, ref, "ent", ["right"], "urgent", "worse"
            )
        elif what == "look":
            self.attempt(
                clinician_asks.ask_look, desk, ref, "hearing_check", ["left"], None, "worried"
            )
        elif what == "care":
            self.attempt(care_elsewhere.record_care, desk, ref, CareElsewhere("ent", "right"))
        else:
            on = (self.on - timedelta(days=pick)).isoformat()
            self.attempt(
                care_elsewhere.record_told, desk, ref, on, "left", "GP", effusion="present"
            )

    @rule(pick=PICK, what=st.sampled_from(["objected", "unsafe"]), who=WHO, ends=st.booleans())
    def stop_contact(self, pick: int, what: Any, who: str, ends: bool) -> None:
        ref = f"W{pick % 2 + 1}"
        if ends:
            self.attempt(editing.withdraw, self.desk(who), ref, what, "asked for it")
        elif what == "objected":
            self.attempt(editing.record_objection, self.desk(who), ref)
        else:
            self.attempt(editing.record_unsafe, self.desk(who), ref)

    @rule(who=WHO, error=st.booleans())
    def death(self, who: str, error: bool) -> None:
        if error:
            self.attempt(deaths.death_in_error, self.desk(who), "W2", "somebody else")
        else:
            self.attempt(deaths.record_death, self.desk(who), "W2", self.on, "Rowan Thackwell")

    @rule(who=WHO)
    def undo(self, who: str) -> None:
        last = undoing.last_undoable(self.desk(who))
        if last is None:
            return
        undoing.undo(self.desk(who), last.number)

    # -- what holds after each ------------------------------------------------------------

    @invariant()
    def what_is_open_has_its_next_step(self) -> None:
        if not hasattr(self, "store"):
            return
        open_rows = rows(self.store, tables.FollowUp, is_open=True)
        with self.store.read() as session:
            facts = facts_for(session, [row["id"] for row in open_rows])
        for row in open_rows:
            now = status_on(facts[row["id"]], self.on, desk_at(self.store).protocol.contact)
            assert now.step is not None and now.why
            assert row["next_step_on"] is not None

    @invariant()
    def what_is_kept_for_the_lists_is_what_the_facts_say(self) -> None:
        """The rows by the search columns are those worked out anew, today and on later days."""
        if not hasattr(self, "store"):
            return
        for days in (0, 1, 40):
            desk = desk_at(self.store, self.on + timedelta(days))
            with self.store.read() as session:
                known = [
                    (e.person_id, e.follow_up_id or 0, e.facts) for e in everything(desk, session)
                ]
                here = rows(self.store, tables.Visit, on=desk.today)
                seen = {row["person_id"] for row in here}
                for view in get_args(View):
                    anew = due_on(known, desk.today, desk.protocol.contact, view, seen=seen)
                    assert day_rows(desk, session, view) == anew
                    if view in ("reach", "reach_or_write"):
                        turns = [p[3:] for part in to_ring_on(desk, session, view) for p in part]
                        assert turns == [(row.person, row.number) for row in anew]

    @invariant()
    def every_ask_is_open_and_followed_or_closed_for_a_reason(self) -> None:
        if not hasattr(self, "store"):
            return
        desk = self.desk()
        with self.store.read() as session:
            assert list(failsafe_plan.check(desk, session, self.people)) == []

    @invariant()
    def what_no_visit_closed_was_decided_by_somebody_who_may(self) -> None:
        if not hasattr(self, "store"):
            return
        may = {
            s["id"]
            for s in rows(self.store, tables.Staff)
            if s["role"] in ("practitioner", "clinical_lead", "manager")
        }
        events = rows(self.store, tables.DueEvent, what="closed")
        by = {d["id"]: d["by_id"] for d in rows(self.store, tables.Decision)}
        with self.store.read() as session:
            due = tables.Due.__table__.c
            is_open = dict(session.execute(select(due.id, due.is_open)).all())
        last = {event["due_id"]: event for event in events}
        for number, event in last.items():
            if is_open[number] or event["reason"] in RULE_REASONS:
                continue
            if event["reason"] == "entered_in_error":
                continue
            assert by[event["decision_id"]] in may

    @invariant()
    def a_closed_follow_up_holds_nothing_open(self) -> None:
        if not hasattr(self, "store"):
            return
        for row in rows(self.store, tables.FollowUp, is_open=False):
            assert row["close_reason"] is not None
            assert row["next_step_on"] is None

    @invariant()
    def the_dead_have_no_appointment_ahead(self) -> None:
        if not hasattr(self, "store"):
            return
        dead = {p["id"] for p in rows(self.store, tables.Person) if p["deceased_on"]}
        ended = {e["booking_id"] for e in rows(self.store, tables.BookingEvent)}
        for row in rows(self.store, tables.Booking):
            if row["person_id"] in dead and row["id"] not in ended:
                assert row["starts_local"].date() < self.on


TestTheDesk = TheDesk.TestCase
TestTheDesk.settings = settings(
    max_examples=EXAMPLES,
    stateful_step_count=12,
    suppress_health_check=list(HealthCheck),
)
