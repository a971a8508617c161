"""What the rules ask at one visit, ear by ear: re-checks, referrals, advice."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from operator import attrgetter

import msgspec

from recall.care.case import Reported, Track, UnderCare, Visit
from recall.care.course import Course
from recall.care.dates import ADULT_FROM, age_on, resolve
from recall.care.ear import SIDES, Ear, Side
from recall.protocol.capabilities import AS_WRITTEN, Able
from recall.protocol.context import ANCHORS, ANY_OF, Circumstance
from recall.protocol.loading import Asks, Protocol
from recall.protocol.onset import Onset
from recall.protocol.rules import Advise, Recheck, Refer, Rule
from recall.schedule.answering import NEEDS
from recall.schedule.capabilities import split, treat_here
from recall.schedule.cared_for import OF_HEARING, covers, is_sign, names_of
from recall.schedule.ending import restrained
from recall.schedule.explained import explains, hearing_is_back, tested_well
from recall.schedule.known import Known, last_day
from recall.schedule.own_cycle import OwnCycle
from recall.schedule.plan import Due, Reason, Referral, Stages
from recall.schedule.windows import stage_days, window_for

EXPLAINED = "loss_explained"
PAIN = frozenset(ANY_OF["any_pain"])
CONCERN = frozenset({"hearing_concern"})
_says_of_hearing = attrgetter("hearing_after", "hearing_dB", "hearing_screen")
NOT_SAID = (None, None, None)
Cycles = Callable[[Side], OwnCycle | None]


@dataclass(slots=True)
class Asked:
    """Everything that one visit asks."""

    dues: list[Due] = field(default_factory=list)
    referrals: list[Referral] = field(default_factory=list)
    advice: list[tuple[Side, Rule]] = field(default_factory=list)
    known: list[tuple[Side, Rule, UnderCare]] = field(default_factory=list)
    """Referrals not made again, and under whose care the thing already is."""
    untested: list[Side] = field(default_factory=list)
    """Ears of which nobody knows when their hearing was last tested, and for which it matters."""


@dataclass(slots=True)
class Scene:
    """One visit with all that its rules are matched on."""

    visit: Visit
    age: int
    bits: dict[Side, int]
    circumstances: dict[Side, Circumstance]
    restrained: bool = False
    """Whether care takes in one thing under all its names, and nothing that is new."""
    met: Mapping[Side, frozenset[str] | None] = field(default_factory=dict)
    """The rules that referred at earlier visits, by ear; None where no drum was seen yet."""

    def names(self, care: UnderCare, side: Side) -> frozenset[Track | None]:
        """Return the tracks that mean one thing with somebody's care of an ear."""
        ear = self.visit.right if side == "right" else self.visit.left
        return names_of(care.track, ear) if self.restrained else frozenset()

    def is_new(self, rule: Rule, side: Side) -> bool:
        """Return whether a rule refers for a sign that an earlier look did not find."""
        met = self.met.get(side)
        return self.restrained and met is not None and rule.id not in met and is_sign(rule)


def _reports(
    visit: Visit, side: Side, ears: tuple[Ear | None, Ear | None], of_other: frozenset[str]
) -> dict[str, Onset]:
    """Return what was reported for an ear, each word the way that asks for more.

    `ears` are this one and the other; `of_other` are words that belong to the other one where
    nobody said of which ear they were told.
    """
    found: dict[str, Onset] = {}
    for item in visit.reported:
        if isinstance(item, str):
            if item != EXPLAINED and item not in of_other:
                found.setdefault(item, Onset())
        elif item.ear is None and item.what in of_other:
            continue
        elif item.ear in (None, side) and (item.what != EXPLAINED or explains(item, *ears)):
            told = _onset(item, visit.on)
            found[item.what] = found[item.what].strictest(told) if item.what in found else told
    return found


def _of_other(ear: Ear | None, other: Ear | None, told: frozenset[str]) -> frozenset[str]:
    """Return what of all that was told belongs to the other ear where nobody said of which.

    Pain is of the ear that is infected, where just one is and nothing else in this one may hurt. A
    concern about hearing is of the ear that hears better once its wax is out, where nothing was
    cleared from this one and it is seen to be free: common practice, no source; NICE QS185
    statement 4 (difficulty that wax causes needs no assessment).
    """
    found: frozenset[str] = frozenset()
    if told & PAIN and _is_infected(other) and not _may_hurt(ear):
        found = PAIN
    return found | CONCERN if told & CONCERN and _was_blocked_alone(other, ear) else found


def _was_blocked_alone(other: Ear | None, ear: Ear | None) -> bool:
    """Return whether the other ear hears better now, and this one was free of wax and normal."""
    if ear is None or other is None or other.hearing_after != "better":
        return False
    free = ear.wax_found in ("none", "some") and ear.wax_left in (None, "none", "some")
    untouched = ear.clearance in (None, "not_attempted")
    seen = ear.drum_seen == "full" and ear.effusion in (None, "absent")
    return free and untouched and seen and ear.hearing_after is None and not _may_dull(ear)


def _may_dull(ear: Ear) -> bool:
    """Return whether anything else was found in an ear that may lower its hearing."""
    hole = ear.perforation not in (None, "none") or ear.grommet not in (None, "none")
    drawn_in = (ear.tensa_grade or 0) > 1 or (ear.attic_grade or 0) > 1
    return hole or drawn_in or ear.cavity is True or _may_hurt(ear)


def _is_told(visit: Visit, side: Side, words: frozenset[str]) -> bool:
    """Return whether one of some words was told of an ear, or of none by name."""
    return any(
        item in words if isinstance(item, str) else item.what in words and item.ear in (None, side)
        for item in visit.reported
    )


def _is_infected(ear: Ear | None) -> bool:
    if ear is None:
        return False
    ill = ear.canal_skin in ("inflamed", "fungal") or ear.bulging or ear.bullae
    return bool(ill or ear.canal_swollen_shut or ear.cellulitis or ear.mastoid_swelling)


def _may_hurt(ear: Ear | None) -> bool:
    """Return whether anything that may hurt was found in an ear, or hides what may."""
    if ear is None:
        return False
    signs = (ear.red, ear.granulation, ear.polyp, ear.keratin, ear.attic_crust, ear.scutum_erosion)
    words = (ear.discharge, ear.foreign_body, ear.mass_behind_drum)
    found = any(signs) or any(word not in (None, "none") for word in words)
    return found or ear.drum_seen == "none" or ear.pinna_lesion is True or _is_infected(ear)


def _onset(item: Reported, on: date) -> Onset:
    onset = item.onset_days
    if item.since is None:
        return Onset(onset_days=onset, sure_onset_days=onset)
    return Onset(resolve(item.since, on).on, last_day(item.since, on), onset, onset)


def set_scene(
    born: date, known: Known, visit: Visit, courses: Mapping[Side, Course], protocol: Protocol
) -> Scene:
    """Return a visit ready for matching; the courses have taken it in already."""
    matcher = protocol.matcher
    age = age_on(born, visit.on)
    child = age < ADULT_FROM
    ears: dict[Side, Ear | None] = {"right": visit.right, "left": visit.left}
    means = (courses["right"].mean_today, courses["left"].mean_today)
    right, left = matcher.pair_bits((visit.right, visit.left), means)
    own: dict[Side, int] = {"right": right, "left": left}
    for side, ear in ears.items():
        if ear is not None:
            across = visit.left if side == "right" else visit.right
            own[side] |= matcher.ear_bits(ear, child, courses[side])
            if _says_of_hearing(ear) != NOT_SAID:
                well = hearing_is_back(ear, across), tested_well(ear, across)
                own[side] |= matcher.tested_bits(*well)
    treated = known.treated_by(visit.on)
    aged = matcher.age_bits(age)
    bits, circumstances, sided = {}, {}, restrained(protocol, visit.on)
    told = frozenset([r if isinstance(r, str) else r.what for r in visit.reported])
    for side, other in (SIDES, SIDES[::-1]):
        bits[side] = own[side] | aged | matcher.seen_across(own[other])
        if known.risks:
            bits[side] |= matcher.risk_bits(known.risk_words(side, visit.on))
        reports: dict[str, Onset] = {}
        if visit.reported:
            of_other = _of_other(ears[side], ears[other], told) if sided else frozenset()
            reports = _reports(visit, side, (ears[side], ears[other]), of_other)
            bits[side] |= matcher.said_bits(reports)
            if told & CONCERN and _is_told(visit, side, CONCERN):
                courses[side].hear_concern(ears[side], visit.on)
        over = courses[side].loss_treated_on or treated
        circumstances[side] = Circumstance(
            visit.on, age, courses[side], courses[other], reports, over
        )
    return Scene(visit, age, bits, circumstances)


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
                if _untested(rule, circumstance, protocol):
                    asked.untested.append(side)
                    if _tested_there(care, side, protocol):
                        continue
                asked.dues.append(_due(rule, rule.ask, side, scene, protocol, cycles))
            elif isinstance(rule.ask, Refer):
                if known := _known_there(care, side, rule, rule.ask, scene):
                    asked.known.append((side, rule, known))
                else:
                    asked.referrals.append(_referral(rule, rule.ask, side, scene, protocol))
            elif isinstance(rule.ask, Advise):
                asked.advice.append((side, rule))
    return asked


def _due(
    rule: Rule, ask: Recheck, side: Side, scene: Scene, protocol: Protocol, cycles: Cycles
) -> Due:
    asks, circumstance = protocol.asks[rule.id, rule.version], scene.circumstances[side]
    dates = window_for(asks, circumstance, protocol, cycles(side) if ask.cycle else None)
    anchor = ANCHORS[ask.anchor](circumstance) if ask.anchor != "visit" else None
    return msgspec.structs.replace(
        _undated(asks, side, asks.known_by(scene.age)),
        earliest=dates.earliest,
        target=dates.target,
        latest=dates.latest,
        asked_on=scene.visit.on,
        cycle=dates.cycle,
        anchor=anchor or msgspec.UNSET,
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


def _untested(rule: Rule, circumstance: Circumstance, protocol: Protocol) -> bool:
    """Return whether a rule counts from a hearing test of which nobody knows."""
    if not isinstance(rule.ask, Recheck) or rule.ask.anchor != "last_hearing_test":
        return False
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
    if rule.urgency == "emergency" or scene.is_new(rule, side):
        return None
    about = side, ask.to, rule.track, rule.urgency
    return next((c for c in care if covers(c, *about, scene.names(c, side))), None)


def _referral(rule: Rule, ask: Refer, side: Side, scene: Scene, protocol: Protocol) -> Referral:
    """Return a referral with the days of its stages."""
    on = scene.visit.on
    asks = protocol.asks[rule.id, rule.version]
    stages = _stages(asks, on)
    return Referral(
        to=ask.to,
        ears=(side,),
        urgency=rule.urgency or "high",
        within_days=(stages.seen_by - on).days,
        stages=stages,
        reasons=(_reason(asks, side, asks.known_by(scene.age)),),
        asked_on=on,
    )


@lru_cache(maxsize=1 << 12)
def _stages(asks: Asks, on: date) -> Stages:
    """Return by which day each stage of what a rule refers must be known."""
    assert asks.stages is not None
    return stage_days(asks.stages, on)


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
