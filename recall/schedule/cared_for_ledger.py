"""What the care of others takes over: referrals that it has taken up, and looks of our own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from recall.care.case import Case, To, ToldByOthers, UnderCare
from recall.care.course import Course
from recall.care.ear import SIDES, Ear, Side
from recall.protocol.loading import Protocol
from recall.schedule.again import CARE_RULE, after_care, back_again
from recall.schedule.answering import missing
from recall.schedule.asking import Asked
from recall.schedule.beside import looks_give_way
from recall.schedule.cared_for import (
    counted_anew,
    covers,
    left_to_care,
    names_of,
    one_look,
    silences,
    watched_with,
)
from recall.schedule.ending import hidden_by_wax, restrained, tails, told_answers
from recall.schedule.explained import only_sure
from recall.schedule.followed_there import left_to_them
from recall.schedule.judged_ledger import JudgedLedger
from recall.schedule.known import known_of
from recall.schedule.one_place import (
    CHILD_TESTS,
    FOR_LIFE,
    Elsewhere,
    left_to_others,
    seen_there,
)
from recall.schedule.one_test import own_place
from recall.schedule.open_ledger import Key
from recall.schedule.plan import CloseReason, Decision, Due, Referral

TESTED_THERE: frozenset[CloseReason] = frozenset({"answered", "died", "transferred"})
"""Ends of a referral after which a test that gave way to it is not asked for again."""

GONE: frozenset[CloseReason] = frozenset({"died", "transferred", "handed_back"})
"""Ends of a test after which nothing comes back that gave way to it."""


class CaredForLedger(JudgedLedger):
    """What stands open of one person beside what others are asked, or have under their care."""

    def __init__(self, case: Case, protocol: Protocol) -> None:
        super().__init__(protocol)
        self.case = case
        self.known = known_of(case)
        self.asked = Asked()
        self.courses: dict[Side, Course] = {side: Course() for side in SIDES}
        self.held_looks: list[Due] = []
        """What the last visit would have asked for beside something that takes the place of it."""

    def take_up(self, on: date) -> None:
        """End the referrals that care which starts on a day has taken up."""
        active = self.known.care_on(on)
        for care in active:
            self._hand_over(care.of, on)
        if not only_sure(self.protocol, on):
            return
        for due in left_to_them(self.open.values(), active):
            self._close((due.ear, due.track, due.kind), on, "superseded", on)

    def _leave_to_wax(self, ears: Mapping[Side, Ear | None], on: date) -> None:
        """End the second look for a drum that wax hides, where somebody sees to that wax."""
        referrals = (*self.asked.referrals, *self.referrals.values())
        sides = {due.ear for due in self.asked.dues if due.track == "wax"}
        sides |= {r.ear for one in referrals for r in one.reasons if r.track == "wax"}
        sides |= {side for side, rule, _ in self.asked.known if rule.track == "wax"}
        for due in list(hidden_by_wax(self.open.values(), ears)):
            if due.ear in sides:
                self._close((due.ear, due.track, due.kind), on, "superseded", on)

    def _elsewhere(self, on: date, more: Sequence[Referral] = ()) -> Elsewhere:
        return Elsewhere((*self.referrals.values(), *more), on)

    def _still_held(self, ears: Mapping[Side, Ear | None]) -> list[Due]:
        """Return the tests of a child that gave way before, and that a visit did not do."""
        held = [
            d for d in self.held_looks if d.rule in CHILD_TESTS and missing(d.needs, ears[d.ear])
        ]
        gone = set(tails(held, ears, self.courses, self.protocol)) if held else ()
        return [d for d in held if d not in gone]

    def _let_go(self, decision: Decision) -> None:
        """Take off what a referral that ends did the place of; ask again for a test not done."""
        on, there = decision.on, self._elsewhere(decision.on)
        done = decision.reason in TESTED_THERE and decision.to == "paediatric_audiology"
        held = [
            d
            for d in self.held_looks
            if d.ear != decision.ear or d.rule in FOR_LIFE or (d.rule in CHILD_TESTS and not done)
        ]
        free = [d for d in held if d.rule in CHILD_TESTS and not seen_there(d, there)]
        self.held_looks = [d for d in held if d not in free]
        again = [back_again(due, on, self.protocol) for due in free]
        self._keep_asking(list(self.judged.dues(again)), on)

    def _untested_by(self, told: ToldByOthers, on: date) -> None:
        """Ask anew for the tests that gave way to one which others have done without them."""
        if own_place(self.protocol, on):
            rest = self.held_looks
            self.held_looks = [d for d in rest if not told_answers(d, told, on, self.protocol)]
            self._ask_for_tests(on)

    def _untested(self, ended: Decision) -> None:
        """Ask anew for the tests that gave way to one which somebody has ended."""
        if own_place(self.protocol, ended.on) and ended.reason not in GONE:
            self._ask_for_tests(ended.on)

    def _ask_for_tests(self, on: date) -> None:
        held = [due for due in self.held_looks if due.needs == ("hearing",)]
        there = self._elsewhere(on)
        asked = held, there.referrals, self.open.values(), self.protocol, there
        free, _ = looks_give_way(*asked)
        self.held_looks = [due for due in self.held_looks if due not in free]
        again = [back_again(due, on, self.protocol) for due in free]
        self._keep_asking(list(self.judged.dues(again)), on)

    def _look_once(
        self, care: Sequence[UnderCare], ears: Mapping[Side, Ear | None], on: date
    ) -> None:
        """Keep one look at a thing that a service has, or is asked to take, into its care."""
        for due in left_to_care(self.open.values(), self.asked.known, ears):
            self._close((due.ear, due.track, due.kind), on, "superseded", on)
        there, watches = self._elsewhere(on), watched_with(self.protocol, on)
        for due in left_to_others(self.open.values(), there, ears, self.protocol):
            key = due.ear, due.track, due.kind
            self._close(key, on, "superseded", on)
            self.held_looks.append(due)
            # what was asked today beside it is no other service's, and stands by itself
            beside = [d for d in self.asked.dues if (d.ear, d.track, d.kind) == key]
            self._keep_asking(beside, on)
        for side, ear in ears.items():
            found = one_look(self.open.values(), side, care, ear, there.referrals, watches)
            if found is None:
                continue
            for due in found[1]:
                self._close((due.ear, due.track, due.kind), on, "superseded", on)
            kept = counted_anew(found[0], on)
            self.open[kept.ear, kept.track, kept.kind] = kept

    def _hand_over(self, to: To, on: date) -> None:
        """End the referrals that a service has taken up."""
        active = self.known.care_on(on)
        for key, referral in list(self.referrals.items()):
            if key[1] != to or referral.urgency == "emergency":
                continue
            taking, ear = active, None
            if restrained(self.protocol, referral.asked_on):
                # what was referred while that care ran was new to it
                taking = self.known.care_since(referral.asked_on, on)
                ear = getattr(self.last, key[0], None)
            if only_sure(self.protocol, referral.asked_on):
                rules = [r.rule for r in referral.reasons]
                taking = [c for c in taking if silences(c, referral.urgency, rules)]
            about = [(t, referral.urgency) for t in {r.track for r in referral.reasons}]
            if all(
                any(covers(c, key[0], to, *one, names_of(c.track, ear)) for c in taking)
                for one in about
            ):
                self._end_referral(key, on, "under_care")

    def _watch_care(self, on: date) -> None:
        """Ask from time to time whether care elsewhere is still running."""
        active = self.known.care_on(on)
        wanted: dict[Key, To] = {}
        for care in active:
            for side in (care.ear,) if care.ear else SIDES:
                wanted.setdefault((side, care.track or "surveillance", "loop"), care.of)
        for key in [k for k in self.open if k[2] == "loop" and k not in wanted]:
            self._close(key, on, "resolved", on)
        for key in wanted:
            if key in self.open or self.judged.struck(key[0], key[1], CARE_RULE):
                continue
            self.open[key] = after_care(key, on, self.protocol)
