"""The fold over a person's visits: what each asks, what it answers, and what then stands.

Days are taken in order; on one day, first what others told, then who took the person into
their care, then visits, then decisions.
A visit without findings changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import groupby

import msgspec

from recall.care.case import Case, To, ToldByOthers, Track, UnderCare, Visit
from recall.care.course import Course
from recall.care.dates import is_child
from recall.care.ear import SIDES, Ear, Side
from recall.protocol.loading import Protocol
from recall.schedule.again import same_again, second_try
from recall.schedule.answering import WORDS, documented_clear, in_part, missing
from recall.schedule.asking import Asked, Scene, ask, covers, set_scene
from recall.schedule.deciding import by_category, moved, weighed
from recall.schedule.judging import (
    Judged,
    explained_away,
    put_off,
    put_off_referral,
    rules_of,
    without_rule,
)
from recall.schedule.known import known_of
from recall.schedule.merging import RANK, merged, renewed, winner
from recall.schedule.own_cycle import OwnCycle, Populations, own_cycles
from recall.schedule.plan import (
    CloseReason,
    Closing,
    Decision,
    Due,
    EndReason,
    Kind,
    Ledger,
    Referral,
    ReferralEnd,
    Unanswered,
)
from recall.schedule.view_notices import seen_in_part, view_not_recorded
from recall.schedule.windows import from_anchor

Key = tuple[Side, Track, Kind]
_SAME = ("latest", "rule", "rule_version", "earliest", "target", "urgency", "do", "needs")
NO_EAR = Ear()
CARE_RULE = "care-elsewhere"
"""What asks whether care elsewhere is still running."""
TESTS: frozenset[Track] = frozenset({"hearing", "surveillance"})
"""Tracks whose windows are wide and seldom what a visit was for: a test that was not done
early in its window is listed as unanswered, and tried again only from its target on."""


def has_findings(visit: Visit) -> bool:
    """Return whether anything at all was recorded at a visit."""
    return bool(visit.reported) or any(
        e is not None and e != NO_EAR for e in (visit.right, visit.left)
    )


class Folding:
    """The state of one person's fold. `step` takes the days in order."""

    def __init__(self, case: Case, protocol: Protocol, population: Populations) -> None:
        self.case = case
        self.known = known_of(case)
        self.protocol = protocol
        self.population = population
        self.courses: dict[Side, Course] = {side: Course() for side in SIDES}
        self.open: dict[Key, Due] = {}
        self.closings: list[Closing] = []
        self.referrals: dict[tuple[Side, To], Referral] = {}
        self.referral_ends: list[ReferralEnd] = []
        self.unanswered: list[Unanswered] = []
        self.notices: list[str] = []
        """What the plan says of how the last visit saw the drums."""
        self.asked = Asked()
        self.judged = Judged(protocol)
        self.visits: list[Visit] = []
        self.cycles: dict[Side, OwnCycle] | None = None
        """The person's own wax cycle at the last visit, once a rule has asked for it."""
        self.scene: Scene | None = None
        self.last: Visit | None = None
        """The last visit that had findings."""

    # -- the three things that can happen on a day ------------------------------------

    def hear(self, told: ToldByOthers, on: date) -> None:
        """Take in something documented elsewhere; after our last visit it asks, too."""
        self.courses[told.ear].hear(told, on)
        self.judged.hear(told)
        if self.last is None:
            return
        for course in self.courses.values():
            course.forget_today()
        scene = set_scene(self.case.born, self.known, Visit(on=on), self.courses, self.protocol)
        asked = ask(scene, self.protocol, self.known.care_on(on), self._cycle)
        self._keep_asking([d for d in self.judged.dues(asked.dues) if d.ear == told.ear], on)
        for referral in self.judged.referrals(asked.referrals):
            if told.ear in referral.ears:
                self._refer_one(referral, on)

    def take_up(self, on: date) -> None:
        """End the referrals that care which starts on a day has taken up."""
        for care in self.known.care_on(on):
            self._hand_over(care.of, on)

    def see(self, visit: Visit) -> None:
        """Take in one visit."""
        if not has_findings(visit):
            return
        self.last = visit
        self.visits.append(visit)
        self.cycles = None
        ears: dict[Side, Ear | None] = {"right": visit.right, "left": visit.left}
        for side, ear in ears.items():
            if ear is None:
                self.courses[side].forget_today()
            else:
                self.courses[side].see(ear, visit.on, visit.examiner)
        self.scene = scene = set_scene(
            self.case.born, self.known, visit, self.courses, self.protocol
        )
        care = self.known.care_on(visit.on)
        self.asked = ask(scene, self.protocol, care, self._cycle)
        self.judged.look(visit, ears)
        if self.judged.held:
            self.asked.dues = list(self.judged.dues(self.asked.dues))
            self.asked.referrals = list(self.judged.referrals(self.asked.referrals))
        self.unanswered = []
        again = self._answer(visit, ears)
        self._keep_asking([*self.asked.dues, *again], visit.on)
        self.take_up(visit.on)
        for referral in self.asked.referrals:
            self._refer_one(referral, visit.on)
        if self.case.under_care:
            self._watch_care(visit.on)

    def decide(self, decision: Decision) -> None:
        """Take in what somebody who may decide did."""
        if decision.action in ("strike", "weigh"):
            self._judge(decision)
            return
        if decision.to is not None and decision.action == "close":
            if (decision.ear, decision.to) in self.referrals:
                self._end_referral((decision.ear, decision.to), decision.on, decision.reason)
            return
        if decision.action == "ask":
            child = is_child(self.case.born, decision.on)
            due = by_category(decision, self.protocol, child)
            if isinstance(due, Referral):
                self._refer_one(due, decision.on)
            elif due is not None:
                self._stand((due.ear, due.track, due.kind), [due], decision.on)
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

    def ledger(self) -> Ledger:
        """Return the whole story so far."""
        return Ledger(
            open=tuple(sorted(self.open.values(), key=_in_order)),
            closings=tuple(self.closings),
            referrals=tuple(self.referrals.values()),
            referral_ends=tuple(self.referral_ends),
        )

    # -- judging ----------------------------------------------------------------------

    def _judge(self, decision: Decision) -> None:
        """Strike a line out, or make it more or less urgent."""
        ears = _ears_at(self.last, decision.ear)
        if decision.to is None:
            assert decision.track is not None
            key: Key = (decision.ear, decision.track, decision.kind)
            due = self.open.get(key)
            due = due if due is not None and decision.rule in rules_of(due) else None
            if self._may_hold(decision, due, (decision.track,), ears) and due is not None:
                self._judge_due(key, due, decision)
            return
        place = (decision.ear, decision.to)
        referral = self.referrals.get(place)
        tracks = [r.track for r in referral.reasons if r.rule == decision.rule] if referral else []
        referral = referral if tracks else None
        if self._may_hold(decision, referral, tracks, ears) and referral is not None:
            self._judge_referral(place, referral, decision)

    def _may_hold(
        self,
        decision: Decision,
        line: Due | Referral | None,
        tracks: Sequence[Track],
        ears: tuple[Ear | None, Ear | None],
    ) -> bool:
        """Keep a judgement that makes a line milder; return whether the line may be changed."""
        urgency = decision.urgency
        if line is not None and urgency and RANK[urgency] < RANK[line.urgency]:
            return True
        if line is not None and not explained_away(line.urgency, tracks, decision, ears):
            return False
        track = next(iter(tracks), decision.track or "drum")
        self.judged.hold(decision, track, self.visits)
        return True

    def _judge_due(self, key: Key, due: Due, decision: Decision) -> None:
        if decision.action == "weigh":
            if due.urgency != decision.urgency:
                self._close(key, decision.on, "superseded", None)
                self.open[key] = moved(due, decision)
            return
        if not all(self.judged.struck(key[0], key[1], rule) for rule in rules_of(due)):
            return
        self._close(key, decision.on, "struck_out", None)
        retry: Key = (key[0], key[1], "retry")
        if key[2] == "recheck" and retry in self.open:
            self._close(retry, decision.on, "struck_out", None)
        later = put_off(due, decision)
        if later is not None:
            self.open[key] = later

    def _judge_referral(self, key: tuple[Side, To], referral: Referral, decision: Decision) -> None:
        changed: Referral | None = None
        if decision.action == "weigh":
            if decision.urgency in (None, referral.urgency):
                return
            changed = weighed(referral, decision.urgency, decision.on, self.protocol)
        elif rest := without_rule(referral, decision.rule):
            self.referrals[key] = msgspec.structs.replace(referral, reasons=rest)
            return
        else:
            changed = put_off_referral(referral, decision)
        if changed is None:
            self._end_referral(key, decision.on, "struck_out")
            return
        if referral.asked_on != decision.on:
            self._end_referral(key, decision.on, "superseded")
        self.referrals[key] = msgspec.structs.replace(changed, asked_on=decision.on)

    # -- answering --------------------------------------------------------------------

    def _answer(self, visit: Visit, ears: dict[Side, Ear | None]) -> list[Due]:
        """Close what this visit looked at; list what it should have looked at and did not.

        Returned are the looks that it did in part, to be asked for again.
        """
        said = [view_not_recorded(s, e, self.open.values()) for s, e in ears.items()]
        self.notices = [notice for notice in said if notice]
        again: list[Due] = []
        for key, due in list(self.open.items()):
            if due.kind != "recheck":
                continue
            ear = ears[due.ear]
            lacking = missing(due.needs, ear)
            if lacking:
                if visit.on >= due.earliest:
                    self._unanswered(due, lacking, visit.on)
                continue
            assert ear is not None
            if documented_clear(due.track, due.needs, ear):
                self._close_with_retry(key, visit.on, "resolved")
            elif visit.on >= due.earliest:
                self._close_with_retry(key, visit.on, "answered")
                if in_part(due.track, due.needs, ear):
                    child = is_child(self.case.born, visit.on)
                    again.append(same_again(due, visit.on, self.protocol, child))
                    self.notices.append(seen_in_part(due))
        return again

    def _unanswered(self, due: Due, lacking: tuple[str, ...], on: date) -> None:
        because = "; ".join(WORDS[n] for n in lacking) + "."
        self.unanswered.append(
            Unanswered(track=due.track, ear=due.ear, because=because, latest=due.latest)
        )
        if due.track in TESTS and on < due.target:
            return
        retry = second_try(due, on, self.protocol, is_child(self.case.born, on))
        if not self.judged.struck(due.ear, due.track, retry.rule):
            self._stand((due.ear, due.track, "retry"), [retry], on)

    def _close_with_retry(self, key: Key, on: date, reason: CloseReason) -> None:
        self._close(key, on, reason, on)
        retry: Key = (key[0], key[1], "retry")
        if retry in self.open:
            self._close(retry, on, reason, on)

    def _close(self, key: Key, on: date, reason: CloseReason, visit_on: date | None) -> None:
        due = self.open.pop(key)
        self.closings.append(Closing(due=due, on=on, reason=reason, visit_on=visit_on))

    # -- asking -----------------------------------------------------------------------

    def _keep_asking(self, asked: Sequence[Due], on: date) -> None:
        """Let what is asked on a day join what already stands."""
        new: dict[Key, list[Due]] = {}
        for due in asked:
            new.setdefault((due.ear, due.track, due.kind), []).append(due)
        for key, dues in new.items():
            self._stand(key, dues, on)

    def _stand(self, key: Key, dues: list[Due], on: date) -> None:
        standing = self.open.get(key)
        if standing is None:
            self.open[key] = winner(dues)
            return
        best = winner([standing, *dues])
        if _same(best, standing):
            return
        self._close(key, on, "superseded", on)
        self.open[key] = msgspec.structs.replace(best, asked_on=on)

    # -- referring --------------------------------------------------------------------

    def _hand_over(self, to: To, on: date) -> None:
        """End the referrals that a service has taken up."""
        active = self.known.care_on(on)
        for key, referral in list(self.referrals.items()):
            if key[1] != to or referral.urgency == "emergency":
                continue
            tracks = {r.track for r in referral.reasons}
            urgency = referral.urgency
            if all(any(covers(c, key[0], to, t, urgency) for c in active) for t in tracks):
                self._end_referral(key, on, "under_care")

    def _refer_one(self, referral: Referral, on: date) -> None:
        """Refer, or let it join the one that stands; one that presses more is asked anew."""
        key = (referral.ears[0], referral.to)
        standing = self.referrals.get(key)
        if standing is None:
            self.referrals[key] = referral
            return
        joined = merged(standing, referral)
        if standing.asked_on == on:
            self.referrals[key] = joined
        elif (joined.urgency, joined.stages) != (standing.urgency, standing.stages):
            self._end_referral(key, on, "superseded")
            stages = renewed(standing.stages, referral.stages, on)
            self.referrals[key] = msgspec.structs.replace(joined, stages=stages, asked_on=on)
        else:
            self.referrals[key] = msgspec.structs.replace(standing, reasons=joined.reasons)

    def _end_referral(self, key: tuple[Side, To], on: date, reason: EndReason) -> None:
        ended = self.referrals.pop(key)
        self.referral_ends.append(ReferralEnd(referral=ended, on=on, reason=reason))

    def _watch_care(self, on: date) -> None:
        """Ask from time to time whether care elsewhere is still running."""
        active = self.known.care_on(on)
        text, dates = self.protocol.file.loop, from_anchor(self.protocol.loop_window, on)
        wanted: dict[Key, To] = {}
        for care in active:
            for side in (care.ear,) if care.ear else SIDES:
                wanted.setdefault((side, care.track or "surveillance", "loop"), care.of)
        for key in [k for k in self.open if k[2] == "loop" and k not in wanted]:
            self._close(key, on, "resolved", on)
        for key in wanted:
            if key in self.open or self.judged.struck(key[0], key[1], CARE_RULE):
                continue
            self.open[key] = Due(
                ear=key[0],
                track=key[1],
                kind="loop",
                category="refer",
                rule=CARE_RULE,
                rule_version=1,
                earliest=dates.earliest,
                target=dates.target,
                latest=dates.latest,
                says=text.says,
                says_aloud=text.says_aloud,
                source=text.source,
                known_by=text.known_by,
                urgency="low",
                do=("ask_after_care",),
                asked_on=on,
            )

    def _cycle(self, side: Side) -> OwnCycle | None:
        """Return the person's own wax cycle, and how long this ear has been clear."""
        if self.cycles is None:
            self.cycles = own_cycles(self.visits, self.population)
        return self.cycles.get(side)


def _ears_at(visit: Visit | None, side: Side) -> tuple[Ear | None, Ear | None]:
    """Return an ear and the other one, as a visit found them."""
    if visit is None:
        return None, None
    pair = (visit.right, visit.left)
    return pair if side == "right" else pair[::-1]


def _same(one: Due, other: Due) -> bool:
    """Return whether two dues ask for the same, whoever asked and whenever."""
    return all(getattr(one, name) == getattr(other, name) for name in _SAME)


def _in_order(due: Due) -> tuple[object, ...]:
    return (due.latest, RANK[due.urgency], due.target, SIDES.index(due.ear), due.track, due.kind)


def _visits_in_order(case: Case, on: date) -> list[Visit]:
    """Return the visits up to a day; several on one day in an order of their own."""
    visits = sorted((v for v in case.visits if v.on <= on), key=lambda v: v.on)
    ordered: list[Visit] = []
    for _, group in groupby(visits, key=lambda v: v.on):
        same = list(group)
        ordered += same if len(same) == 1 else sorted(same, key=msgspec.json.encode)
    return ordered


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
    visits = _visits_in_order(case, on)
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
            state.take_up(day)
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
