"""The fold over a person's visits: what each asks, what it answers, and what then stands.

Days are taken in order; on one day, first what others told, then who took the person into
their care, then visits, then decisions.
A visit without findings changes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from recall.care.case import Case, ToldByOthers, Track, UnderCare, Visit
from recall.care.dates import ADULT_FROM, age_on, is_child
from recall.care.ear import Ear, Side
from recall.care.one_look import wax_stays, wax_was_left_alone
from recall.protocol.loading import Protocol
from recall.schedule.again import late, same_again, second_try
from recall.schedule.answering import LOOKS, WORDS, documented_clear, in_part
from recall.schedule.asking import Scene, ask, set_scene
from recall.schedule.beside import (
    emergencies_first,
    free_again,
    heard_alone,
    looks_give_way,
    tries_over,
)
from recall.schedule.capabilities import Split, split
from recall.schedule.cared_for_ledger import CaredForLedger
from recall.schedule.deciding import by_category, moved
from recall.schedule.ending import (
    comes_early,
    lacking,
    restrained,
    tails,
    told_answers,
    visit_told,
)
from recall.schedule.explained import only_sure
from recall.schedule.followed_there import wax_is_at_ent
from recall.schedule.one_place import FOR_LIFE, in_one_place, seen_there
from recall.schedule.one_test import own_place
from recall.schedule.open_ledger import Key
from recall.schedule.order import has_findings, visits_in_order
from recall.schedule.own_cycle import OwnCycle, Populations, own_cycles
from recall.schedule.plan import Decision, Due, Ledger, Referral, Unanswered
from recall.schedule.said_no import declined, untried
from recall.schedule.view_notices import seen_in_part, view_not_recorded

NO_RULES: frozenset[str] = frozenset()
TESTS: frozenset[Track] = frozenset({"hearing", "surveillance"})
"""Tracks whose windows are wide and seldom what a visit was for: a test that was not done
early in its window is listed as unanswered, and tried again only from its target on."""


class Folding(CaredForLedger):
    """The state of one person's fold. `step` takes the days in order."""

    def __init__(self, case: Case, protocol: Protocol, population: Populations) -> None:
        super().__init__(case, protocol)
        self.population = population
        self.unanswered: list[Unanswered] = []
        self.notices: list[str] = []
        """What the plan says of how the last visit saw the drums."""
        self.cycles: dict[Side, OwnCycle] | None = None
        """The person's own wax cycle at the last visit, once a rule has asked for it."""
        self.met: dict[Side, frozenset[str] | None] = {}
        """The rules that referred each ear at its visits here, once its drum was seen."""
        self.scene: Scene | None = None
        self.restrained = False
        """Whether the last visit is judged by the readings that came with the second protocol."""
        self.held_back: list[Referral] = []
        """What the last visit referred by milder ways than an emergency of the same thing."""

    # -- the three things that can happen on a day ------------------------------------

    def hear(self, told: ToldByOthers, on: date) -> None:
        """Take in something documented elsewhere; after our last visit it asks, too."""
        self.courses[told.ear].hear(told, on)
        self.judged.hear(told)
        if self.last is None:
            return
        for key, due in list(self.open.items()) if restrained(self.protocol, on) else ():
            if told_answers(due, told, on, self.protocol):
                self._close_told(key, on)
        for course in self.courses.values():
            course.forget_today()
        seen = self.case.born, self.known, visit_told(told, on), self.courses, self.protocol
        asked = ask(set_scene(*seen), self.protocol, self.known.care_on(on), self._cycle)
        self._keep_asking([d for d in self.judged.dues(asked.dues) if d.ear == told.ear], on)
        for referral in self.judged.referrals(asked.referrals):
            if told.ear in referral.ears:
                self._refer_one(referral, on)
        self._untested_by(told, on)

    def see(self, visit: Visit) -> None:
        """Take in one visit."""
        if not has_findings(visit):
            return
        self.last = visit
        self.visits.append(visit)
        self.cycles = None
        ears: dict[Side, Ear | None] = {"right": visit.right, "left": visit.left}
        scene = self._look(visit, ears)
        care = self.known.care_on(visit.on)
        self.asked = ask(scene, self.protocol, care, self._cycle)
        self._meet(ears)
        self._hold_back(visit, ears)
        self.unanswered = []
        again = self._answer(visit, ears)
        if scene.restrained and self.asked.dues:
            self._give_way(visit.on)
        self._keep_asking([*self.asked.dues, *again], visit.on)
        if care:
            self.take_up(visit.on)
        for referral in self.asked.referrals:
            self._refer_one(referral, visit.on)
        if self.case.under_care:
            self._watch_care(visit.on)
        if scene.restrained and (care or self.referrals):
            self._look_once(care, ears, visit.on)
        if self.asked.advice:
            stands = self.open.values(), list(self.referrals.values()), self.asked.known
            self.asked.advice = heard_alone(self.asked.advice, *stands)

    def _look(self, visit: Visit, ears: Mapping[Side, Ear | None]) -> Scene:
        """Bring on the course of each ear; return the visit as its rules are matched on."""
        for side, ear in ears.items():
            if ear is None:
                self.courses[side].forget_today()
            else:
                sure = only_sure(self.protocol, visit.on)
                left = sure and untried(ear, side, self.case.born, self.known, visit.on)
                course = self.courses[side]
                course.see(ear, visit.on, visit.examiner, untried=left)
                if own_place(self.protocol, visit.on):
                    course.wax_waits = wax_was_left_alone(ear, course.wax_waits)
        self.scene = scene = set_scene(
            self.case.born, self.known, visit, self.courses, self.protocol
        )
        self.restrained = scene.restrained = restrained(self.protocol, visit.on)
        scene.met = self.met
        return scene

    def _give_way(self, on: date) -> None:
        """Leave out the looks and tests of the day that something else takes the place of."""
        asked, there = self.asked, self._elsewhere(on, self.asked.referrals)
        asked.dues, held = looks_give_way(
            asked.dues, asked.referrals, self.open.values(), self.protocol, there
        )
        self.held_looks = [*self.held_looks, *held]

    def _hold_back(self, visit: Visit, ears: dict[Side, Ear | None]) -> None:
        """Leave out what somebody struck out, and what an emergency takes the place of."""
        self.judged.look(visit, ears)
        self.held_back, self.held_looks = [], self._still_held(ears)
        if self.judged.held:
            self.asked.dues = list(self.judged.dues(self.asked.dues))
            self.asked.referrals = list(self.judged.referrals(self.asked.referrals))
        if self.asked.referrals and self.restrained:
            self.asked.referrals, self.held_back = emergencies_first(
                self.asked.referrals, self.protocol, visit.on
            )

    def _meet(self, ears: Mapping[Side, Ear | None]) -> None:
        """Keep which rules referred an ear at a look, so that a later sign is known to be new."""
        if not self.asked.referrals and not self.asked.known and len(self.met) == len(ears):
            return
        referred = [(r.ear, r.rule) for one in self.asked.referrals for r in one.reasons]
        referred += [(side, rule.id) for side, rule, _ in self.asked.known]
        for side, ear in ears.items():
            known = self.met.get(side)
            if known is None and (ear is None or not LOOKS["drum"](ear)):
                continue
            rules = {rule for where, rule in referred if where == side} if referred else NO_RULES
            if known is None or not rules <= known:
                self.met = {**self.met, side: (known or NO_RULES) | rules}

    def decide(self, decision: Decision) -> None:
        """Take in what somebody who may decide did."""
        if decision.action in ("strike", "weigh"):
            self.judge(decision)
            self._ask_again(decision.on)
            return
        if decision.to is not None and decision.action == "close":
            if self._close_referral(decision):
                self.courses[decision.ear].hand_back_wax()
                # what came of it is known: what gave way to it is not asked for any more
                self.held_back = [r for r in self.held_back if decision.ear not in r.ears]
                self.come_back(decision.on)
                self._let_go(decision)
            return
        if decision.action == "ask":
            self._ask_by_category(decision)
            return
        assert decision.track is not None
        key: Key = (decision.ear, decision.track, decision.kind)
        due = self.open.get(key)
        if due is None or decision.asked_on not in (None, due.asked_on):
            return
        if decision.action == "move":
            self._close(key, decision.on, "superseded", None)
            self.open[key] = moved(due, decision)
        else:
            self._close(key, decision.on, decision.reason, None)
            self._untested(decision)

    def _ask_by_category(self, decision: Decision) -> None:
        """Ask what a category alone asks for, of others where the practice cannot do it."""
        on, age = decision.on, age_on(self.case.born, decision.on)
        asked = by_category(decision, self.protocol, age < ADULT_FROM)
        if asked is None or isinstance(asked, Referral):
            parts = Split(None, (asked,) if asked else ())
        else:
            parts = split(asked, self.protocol.capabilities.on(on), age, (), self.protocol, on)
        if parts.due is not None:
            self._keep_asking([parts.due], on)
        for referral in parts.referrals:
            self._refer_one(referral, on)

    def hand_over(self, on: date) -> None:
        """Take in care that begins: what it does ends here, and whether it runs is asked."""
        self.take_up(on)
        self.come_back(on)
        if self.last is not None and only_sure(self.protocol, on):
            self._watch_care(on)

    def come_back(self, on: date) -> None:
        """Ask anew for the tests by risk that gave way to a service that is not asked any more."""
        there = self._elsewhere(on)
        free = [d for d in self.held_looks if d.rule in FOR_LIFE and not seen_there(d, there)]
        if not free:
            return
        for course in self.courses.values():
            course.forget_today()
        scene = set_scene(self.case.born, self.known, Visit(on=on), self.courses, self.protocol)
        asked = ask(scene, self.protocol, self.known.care_on(on), self._cycle)
        ears = {due.ear for due in free}
        again = [d for d in asked.dues if d.rule in FOR_LIFE and d.ear in ears]
        self.held_looks = [d for d in self.held_looks if d not in free]
        self._keep_asking(list(self.judged.dues(again)), on)

    def _ask_again(self, on: date) -> None:
        """Ask by the milder ways once what held them back is struck out."""
        free = free_again(self.held_back, self.referrals.values())
        self.held_back = [r for r in self.held_back if r not in free]
        for referral in self.judged.referrals(free):
            self._refer_one(referral, on)
        there = self._elsewhere(on)
        looks, self.held_looks = looks_give_way(
            self.held_looks, there.referrals, self.open.values(), self.protocol, there
        )
        self._keep_asking(list(self.judged.dues(looks)), on)

    # -- answering --------------------------------------------------------------------

    def _answer(self, visit: Visit, ears: dict[Side, Ear | None]) -> list[Due]:
        """Close what this visit looked at; list what it should have looked at and did not.

        Returned are the looks that it did in part, to be asked for again.
        """
        standing = self.open.values()
        said = [view_not_recorded(s, e, standing) for s, e in ears.items() if e and not e.drum_seen]
        self.notices = [notice for notice in said if notice]
        if not self.open:
            return []
        if only_sure(self.protocol, visit.on) and not is_child(self.case.born, visit.on):
            self._take_no(visit.on, ears)
        if in_one_place(self.protocol, visit.on):
            self._leave_to_wax(ears, visit.on)
        again = self._answer_dues(visit, ears)
        if self.open and self.restrained:
            for due in list(tails(self.open.values(), ears, self.courses, self.protocol)):
                self._close_with_retry((due.ear, due.track, due.kind), visit.on, "resolved")
                self._unask(due, visit.on)
            for due in list(tries_over(self.open.values(), ears, self.protocol)):
                self._close_with_retry((due.ear, due.track, due.kind), visit.on, "superseded")
        return again

    def _take_no(self, on: date, ears: Mapping[Side, Ear | None]) -> None:
        """Close what a capable adult says no to."""
        for due in list(
            declined(self.open.values(), ears, lambda side: self.known.risk_words(side, on))
        ):
            self._close_with_retry((due.ear, due.track, due.kind), on, "informed_decline")

    def _answer_dues(self, visit: Visit, ears: dict[Side, Ear | None]) -> list[Due]:
        again: list[Due] = []
        for key, due in list(self.open.items()):
            if due.kind != "recheck":
                continue
            ear = ears[due.ear]
            if not_looked := lacking(due, ear, visit.on, self.protocol):
                if visit.on >= due.earliest:
                    self._unanswered(due, not_looked, visit.on)
                continue
            assert ear is not None
            if documented_clear(due.track, due.needs, ear):
                self._close_with_retry(key, visit.on, "resolved")
            elif visit.on >= due.earliest or (
                self.restrained
                and comes_early(due, ear, self.courses[due.ear], visit.on, self.protocol)
            ):
                self._close_with_retry(key, visit.on, "answered")
                if in_part(due.track, due.needs, ear):
                    child = is_child(self.case.born, visit.on)
                    again.append(same_again(due, visit.on, self.protocol, child))
                    self.notices.append(seen_in_part(due))
        return again

    def _unask(self, due: Due, on: date) -> None:
        """Leave out that a visit did not look at something which it found gone."""
        if only_sure(self.protocol, on):
            about = due.ear, due.track
            self.unanswered = [u for u in self.unanswered if (u.ear, u.track) != about]

    def _unanswered(self, due: Due, not_looked: tuple[str, ...], on: date) -> None:
        because = "; ".join(WORDS[n] for n in not_looked) + "."
        self.unanswered.append(
            Unanswered(track=due.track, ear=due.ear, because=because, latest=due.latest)
        )
        if due.track in TESTS and on < due.target:
            return
        assert self.scene is not None
        retry = second_try(due, on, self.protocol, self.scene.age < ADULT_FROM)
        if self._needs_none(retry, self.asked.referrals, on) or self._hidden_for_ent(due.ear, on):
            return
        key: Key = (due.ear, due.track, "retry")
        earlier = self.open.get(key)
        if earlier is not None and earlier.latest < on and self.restrained:
            # its days have gone by: nothing of it could be booked any more
            self._close(key, on, "superseded", on)
            retry = late(retry, earlier)
        self._stand(key, [retry], on)

    def _hidden_for_ent(self, side: Side, on: date) -> bool:
        """Return whether wax hides the drum of an ear, and ENT has it to take out."""
        ear = getattr(self.last, side, None)
        stays = isinstance(ear, Ear) and ear.drum_seen == "none" and wax_stays(ear)
        care = self.known.care_on(on) if stays and only_sure(self.protocol, on) else ()
        return wax_is_at_ent(side, care)

    # -- referring --------------------------------------------------------------------

    def _cycle(self, side: Side) -> OwnCycle | None:
        """Return the person's own wax cycle, and how long this ear has been clear."""
        if self.cycles is None:
            self.cycles = own_cycles(self.visits, self.population)
        return self.cycles.get(side)


def folding(
    case: Case,
    protocol: Protocol,
    on: date,
    *,
    decisions: Sequence[Decision] = (),
    population: Populations = None,
) -> Folding:
    """Return the state after the last visit on or before a day."""
    state = Folding(case, protocol, population)
    visits = visits_in_order(case, on)
    if not (case.told_by_others or case.under_care or decisions):
        for visit in visits:
            state.see(visit)
        return state
    days: list[tuple[date, int, ToldByOthers | UnderCare | Visit | Decision]] = []
    days += [(day, 0, told) for day, told in state.known.told if day <= on]
    for care, dated in state.known.care:
        if dated.since is not None and dated.since <= on:
            days.append((dated.since, 1, care))
    days += [(v.on, 2, v) for v in visits]
    days += [(d.on, 3, d) for d in decisions if d.on <= on]
    for day, _, event in sorted(days, key=lambda d: d[:2]):
        if isinstance(event, ToldByOthers):
            state.hear(event, day)
        elif isinstance(event, Visit):
            state.see(event)
        elif isinstance(event, UnderCare):
            state.hand_over(day)
        else:
            state.decide(event)
    return state


def fold(
    case: Case,
    protocol: Protocol,
    on: date,
    *,
    decisions: Sequence[Decision] = (),
    population: Populations = None,
) -> Ledger:
    """Return every due ever asked, how each ended, and what is open, for the records."""
    return folding(case, protocol, on, decisions=decisions, population=population).ledger()
