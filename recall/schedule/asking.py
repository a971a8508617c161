"""What the rules ask at one visit, ear by ear: re-checks, referrals, advice."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date
from functools import lru_cache
from operator import attrgetter

import msgspec

from recall.care.case import To, Track, UnderCare, Visit
from recall.care.course import Course
from recall.care.dates import ADULT_FROM, age_on
from recall.care.ear import SIDES, Ear, Side
from recall.care.tympanogram import classify
from recall.protocol.anchors import ANCHORS
from recall.protocol.capabilities import AS_WRITTEN, Able
from recall.protocol.context import Circumstance
from recall.protocol.loading import Asks, Protocol
from recall.protocol.matching import Matcher
from recall.protocol.onset import Onset
from recall.protocol.rules import Recheck, Refer, Rule
from recall.protocol.words import TRACE_FLAGS
from recall.schedule.answering import NEEDS
from recall.schedule.capabilities import split, treat_here
from recall.schedule.cared_for import (
    AT_RISK,
    OF_HEARING,
    covers,
    fluid_known_at_audiology,
    fluid_known_at_ent,
    is_new_to,
    is_sign,
    known_at_audiology,
    names_of,
    silences,
)
from recall.schedule.ending import restrained
from recall.schedule.explained import hearing_is_back, only_sure, tested_well
from recall.schedule.followed_there import is_followed
from recall.schedule.known import Known
from recall.schedule.own_cycle import OwnCycle
from recall.schedule.plan import Due, Reason, Referral
from recall.schedule.reported import (
    CONCERN,
    DIFFICULTY,
    is_told,
    of_other_ear,
    reports_of,
    told_at,
)
from recall.schedule.windows import from_anchor, stage_days, window_for

TESTED = "last_hearing_test"
"""The anchor of what is counted from a hearing test."""
_says_of_hearing = attrgetter("hearing_after", "hearing_dB", "hearing_screen")
NOT_SAID = (None, None, None)
Cycles = Callable[[Side], OwnCycle | None]


class Asked(msgspec.Struct):
    """Everything that one visit asks."""

    dues: list[Due] = msgspec.field(default_factory=list)
    referrals: list[Referral] = msgspec.field(default_factory=list)
    advice: list[tuple[Side, Rule]] = msgspec.field(default_factory=list)
    known: list[tuple[Side, Rule, UnderCare]] = msgspec.field(default_factory=list)
    """Referrals not made again, and under whose care the thing already is."""
    untested: list[Side] = msgspec.field(default_factory=list)
    """Ears of which nobody knows when their hearing was last tested, and for which it matters."""


class Scene(msgspec.Struct):
    """One visit with all that its rules are matched on."""

    visit: Visit
    age: int
    bits: dict[Side, int]
    circumstances: dict[Side, Circumstance]
    restrained: bool = False
    """Whether care takes in one thing under all its names, and nothing that is new."""
    sure: bool = False
    """Whether care that names no track takes in nothing urgent."""
    met: Mapping[Side, frozenset[str] | None] = msgspec.field(default_factory=dict)
    """The rules that referred at earlier visits, by ear; None where no drum was seen yet."""

    began: Mapping[UnderCare, date | None] = msgspec.field(default_factory=dict)
    """The day since which each care elsewhere is sure to run."""

    def names(self, care: UnderCare, side: Side) -> frozenset[Track | None]:
        """Return the tracks that mean one thing with somebody's care of an ear."""
        ear = self.visit.right if side == "right" else self.visit.left
        return names_of(care.track, ear) if self.restrained else frozenset()

    def is_new(self, rule: Rule, side: Side) -> bool:
        """Return whether a rule refers for a sign that an earlier look did not find."""
        met = self.met.get(side)
        return self.restrained and met is not None and rule.id not in met and is_sign(rule)

    def knows(self, care: UnderCare, rule: Rule, side: Side) -> bool:
        """Return whether care that runs may take in what a rule refers for, or it is new to it."""
        met, reports = self.met.get(side) or (), self.circumstances[side].reports
        return not is_new_to(care, self.began.get(care), rule, reports, rule.id in met)


def _both_measured(visit: Visit) -> bool:
    """Return whether levels of both ears were recorded, which can then be compared."""
    right, left = visit.right, visit.left
    if right is None or left is None:
        return False
    return right.hearing_dB is not None and left.hearing_dB is not None


def set_scene(
    born: date, known: Known, visit: Visit, courses: Mapping[Side, Course], protocol: Protocol
) -> Scene:
    """Return a visit ready for matching; the courses have taken it in already."""
    matcher = protocol.matcher
    age = age_on(born, visit.on)
    ears: dict[Side, Ear | None] = {"right": visit.right, "left": visit.left}
    sure = only_sure(protocol, visit.on)
    own = _own_bits(visit, courses, matcher, age < ADULT_FROM, sure)
    treated = known.treated_by(visit.on)
    aged = matcher.age_bits(age)
    bits, circumstances, sided = {}, {}, restrained(protocol, visit.on)
    told = told_at(visit)
    for side, other in (SIDES, SIDES[::-1]):
        bits[side] = own[side] | aged | matcher.seen_across(own[other])
        if known.risks:
            bits[side] |= matcher.risk_bits(known.risk_words(side, visit.on))
        reports: dict[str, Onset] = {}
        if visit.reported:
            of_other = of_other_ear(ears[side], ears[other], told, sure) if sided else frozenset()
            reports = reports_of(visit, side, (ears[side], ears[other]), of_other, sure)
            lately = [word for word, onset in reports.items() if onset.is_lately(visit.on)]
            bits[side] |= matcher.said_bits(reports, lately)
            _hear(courses[side], visit, side, told)
        over = courses[side].loss_treated_on or treated
        circumstances[side] = Circumstance(
            visit.on, age, courses[side], courses[other], reports, over
        )
    began = {care: dated.since for care, dated in known.care}
    return Scene(visit, age, bits, circumstances, sure=sure, began=began)


def _hear(course: Course, visit: Visit, side: Side, told: frozenset[str]) -> None:
    """Keep that a concern about the hearing of an ear was told, or that it got worse."""
    if not told & DIFFICULTY:
        return
    if is_told(visit, side, CONCERN):
        course.hear_concern(visit.right if side == "right" else visit.left, visit.on)
    if is_told(visit, side, DIFFICULTY):
        course.difficulty_on = visit.on


def _keep_traces(visit: Visit, courses: Mapping[Side, Course], child: bool) -> None:
    """Keep of each ear that its trace was read as one of a hole."""
    for course, ear in ((courses["right"], visit.right), (courses["left"], visit.left)):
        trace = ear.tympanogram if ear is not None else None
        if trace is not None and classify(trace, child).pattern == TRACE_FLAGS["trace_of_a_hole"]:
            course.trace_of_hole_on = visit.on


def _own_bits(
    visit: Visit, courses: Mapping[Side, Course], matcher: Matcher, child: bool, sure: bool
) -> dict[Side, int]:
    """Return the bits of what was found in each ear, and of the difference between them."""
    own: dict[Side, int] = {"right": 0, "left": 0}
    _keep_traces(visit, courses, child)
    if _both_measured(visit):
        means = (courses["right"].mean_today, courses["left"].mean_today)
        own["right"], own["left"] = matcher.pair_bits((visit.right, visit.left), means)
    if visit.right is not None:
        own["right"] |= matcher.ear_bits(visit.right, child, courses["right"])
        if _says_of_hearing(visit.right) != NOT_SAID:
            own["right"] |= _heard_bits(visit.right, visit.left, matcher, sure)
    if visit.left is not None:
        own["left"] |= matcher.ear_bits(visit.left, child, courses["left"])
        if _says_of_hearing(visit.left) != NOT_SAID:
            own["left"] |= _heard_bits(visit.left, visit.right, matcher, sure)
    return own


def _heard_bits(ear: Ear, other: Ear | None, matcher: Matcher, sure: bool) -> int:
    """Return the bits of how well an ear of which something was said of hearing hears."""
    return matcher.tested_bits(hearing_is_back(ear, other, sure), tested_well(ear, other))


def ask(scene: Scene, protocol: Protocol, care: Iterable[UnderCare], cycles: Cycles) -> Asked:
    """Return what the matching rules ask for at a visit, of this practice and of others."""
    care = tuple(care)
    asked = _as_written(scene, protocol, care, cycles)
    able = protocol.capabilities.on(scene.visit.on)
    return asked if able == AS_WRITTEN else _as_able(asked, able, scene, protocol, care)


def _as_able(
    asked: Asked, able: Able, scene: Scene, protocol: Protocol, care: tuple[UnderCare, ...]
) -> Asked:
    """Ask others for what the practice cannot do, in what is asked."""
    for reason in [r for referral in asked.referrals for r in referral.reasons]:
        if advice := treat_here(protocol.asks[reason.rule, reason.rule_version].rule, able):
            asked.advice.append((reason.ear, advice))
    dues, asked.dues = asked.dues, []
    for due in dues:
        rule = protocol.asks[due.rule, due.rule_version].rule
        advised = [advice for side, advice in asked.advice if side == due.ear]
        parts = split(due, able, scene.age, (rule, *advised), protocol, scene.visit.on)
        asked.dues += [parts.due] if parts.due else []
        for referral in parts.referrals:
            if known := _known_there(care, due.ear, rule, Refer(to=referral.to), scene):
                asked.known.append((due.ear, rule, known))
            else:
                asked.referrals.append(referral)
    return asked


def _as_written(
    scene: Scene, protocol: Protocol, care: tuple[UnderCare, ...], cycles: Cycles
) -> Asked:
    asked = Asked()
    for side in SIDES:
        circumstance = scene.circumstances[side]
        for rule in protocol.matcher.matches(scene.bits[side], circumstance):
            if isinstance(rule.ask, Recheck):
                if scene.sure and is_followed((rule.id,), side, care):
                    continue
                untested = rule.ask.anchor == TESTED and _untested(circumstance, protocol)
                there = untested and _tested_there(care, side, protocol)
                asked.untested += [side] if untested and not (scene.sure and there) else []
                if not there:
                    asked.dues.append(_due(rule, rule.ask, side, scene, protocol, cycles))
            elif isinstance(rule.ask, Refer):
                if known := _known_there(care, side, rule, rule.ask, scene):
                    asked.known.append((side, rule, known))
                else:
                    asked.referrals.append(_referral(rule, rule.ask, side, scene, protocol))
            elif not (scene.sure and is_followed((rule.id,), side, care)):
                asked.advice.append((side, rule))
    return asked


def _due(
    rule: Rule, ask: Recheck, side: Side, scene: Scene, protocol: Protocol, cycles: Cycles
) -> Due:
    asks, circumstance = protocol.asks[rule.id, rule.version], scene.circumstances[side]
    known_by, on = asks.known_by(scene.age), scene.visit.on
    if ask.anchor == "visit" and ask.cycle is None:
        return _of_day(asks, side, known_by, on)
    dates = window_for(asks, circumstance, protocol, cycles(side) if ask.cycle else None)
    anchor = ANCHORS[ask.anchor](circumstance) if ask.anchor != "visit" else None
    return msgspec.structs.replace(
        _undated(asks, side, known_by),
        earliest=dates.earliest,
        target=dates.target,
        latest=dates.latest,
        asked_on=on,
        cycle=dates.cycle,
        anchor=anchor or msgspec.UNSET,
    )


@lru_cache(maxsize=1 << 13)
def _of_day(asks: Asks, side: Side, known_by: str, on: date) -> Due:
    """Return what a rule asks of an ear that was seen on a day, counted from that day.

    Remembered, since a practice sees many people on one day; no such window begins before it.
    """
    assert asks.window is not None
    dates = from_anchor(asks.window, on)
    return msgspec.structs.replace(
        _undated(asks, side, known_by),
        earliest=dates.earliest,
        target=dates.target,
        latest=dates.latest,
        asked_on=on,
    )


@lru_cache(maxsize=1 << 12)
def _undated(asks: Asks, side: Side, known_by: str) -> Due:
    """Return what a rule asks of an ear, whenever it does: to be copied with its days."""
    rule, never = asks.rule, date.min
    assert isinstance(rule.ask, Recheck)
    return Due(
        ear=side,
        track=rule.track,
        category=rule.category,
        rule=rule.id,
        rule_version=rule.version,
        earliest=never,
        target=never,
        latest=never,
        says=rule.says,
        source=rule.source,
        known_by=known_by,
        urgency=rule.urgency or "medium",
        do=rule.ask.do,
        needs=rule.ask.needs or NEEDS[rule.track],
        says_aloud=rule.says_aloud,
        asked_on=never,
    )


def _untested(circumstance: Circumstance, protocol: Protocol) -> bool:
    """Return whether nobody knows of a hearing test that a rule would count from."""
    text = protocol.file.untested
    if text is None or circumstance.on < text.since:
        return False
    return circumstance.course.hearing_on is None


def _tested_there(care: tuple[UnderCare, ...], side: Side, protocol: Protocol) -> bool:
    """Return whether a service that tests hearing itself has an ear under its care."""
    text = protocol.file.untested
    assert text is not None
    return any(
        c.of in text.by and c.ear in (None, side) and c.track in (None, *OF_HEARING) for c in care
    )


def _known_there(
    care: tuple[UnderCare, ...], side: Side, rule: Rule, ask: Refer, scene: Scene
) -> UnderCare | None:
    """Return the care that takes a referral in; what is new or an emergency is referred."""
    if rule.urgency == "emergency":
        return None
    ear = scene.visit.right if side == "right" else scene.visit.left
    if scene.sure and rule.id in AT_RISK:
        return fluid_known_at_audiology(rule, side, care, ear, scene.circumstances[side])
    if scene.is_new(rule, side):
        return None
    about = side, ask.to, rule.track, rule.urgency
    if scene.sure:
        care = tuple(
            c for c in care if silences(c, rule.urgency, (rule.id,)) and scene.knows(c, rule, side)
        )
        if (known := known_at_audiology(rule, side, care)) is not None:
            return known
        if (known := fluid_known_at_ent(rule, side, care, ear)) is not None:
            return known
    return next((c for c in care if covers(c, *about, scene.names(c, side))), None)


def _referral(rule: Rule, ask: Refer, side: Side, scene: Scene, protocol: Protocol) -> Referral:
    """Return a referral with the days of its stages."""
    asks = protocol.asks[rule.id, rule.version]
    return _referred(asks, ask.to, side, asks.known_by(scene.age), scene.visit.on)


@lru_cache(maxsize=1 << 13)
def _referred(asks: Asks, to: To, side: Side, known_by: str, on: date) -> Referral:
    """Return a referral of an ear that was seen on a day: remembered, as a due of that day is."""
    assert asks.stages is not None
    stages = stage_days(asks.stages, on)
    return Referral(
        to=to,
        ears=(side,),
        urgency=asks.rule.urgency or "high",
        within_days=(stages.seen_by - on).days,
        stages=stages,
        reasons=(_reason(asks, side, known_by),),
        asked_on=on,
    )


@lru_cache(maxsize=1 << 12)
def _reason(asks: Asks, side: Side, known_by: str) -> Reason:
    """Return why a rule refers an ear."""
    rule = asks.rule
    return Reason(
        ear=side,
        track=rule.track,
        rule=rule.id,
        rule_version=rule.version,
        says=rule.says,
        source=rule.source,
        known_by=known_by,
        says_aloud=rule.says_aloud,
    )
